package kinematics

import (
	_ "gonum.org/v1/gonum/stat"
	_ "holdfast/models" // want `kinematics must not import holdfast/models: it knows gonum`
	_ "math"
	_ "os"   // want `kinematics must not import os: it computes from its arguments alone`
	_ "time" // want `kinematics must not import time: it computes`
)
