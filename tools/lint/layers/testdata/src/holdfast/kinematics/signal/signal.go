package signal

import (
	_ "holdfast/kinematics/body" // want `holdfast/kinematics/signal must not import holdfast/kinematics/body: the rooms of kinematics import in the order kinematics -> .* -> signal`
	_ "math"
)
