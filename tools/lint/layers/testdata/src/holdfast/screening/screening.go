package screening

import (
	_ "holdfast/kinematics"
	_ "holdfast/models"
	_ "holdfast/vision"
)
