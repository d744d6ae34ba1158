package kinematics

import (
	_ "os" // tests may read their worked examples
	_ "testing"
)
