package kinematics

import (
	_ "holdfast/internal/kept"
	_ "os" // tests may read their worked examples
	_ "testing"
)
