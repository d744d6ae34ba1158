package vision

import (
	_ "gocv.io/x/gocv"
	_ "holdfast/models"
)

import _ "holdfast/kinematics" // want `vision must not import kinematics: imports point cmd`
