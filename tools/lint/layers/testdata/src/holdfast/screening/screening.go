package screening

import (
	_ "holdfast/internal/kept" // want `screening must not import holdfast/internal/kept: it serves tests alone`
	_ "holdfast/kinematics"
	_ "holdfast/models"
	_ "holdfast/vision"
)
