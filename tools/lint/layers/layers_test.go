package layers

import (
	"testing"

	"golang.org/x/tools/go/analysis/analysistest"
)

// TestLayers lets the analyzer loose on a small house with every kind of
// wrong import; the sample files say what must be reported, and where.
func TestLayers(t *testing.T) {
	analysistest.Run(t, analysistest.TestData(), Analyzer,
		"holdfast/vision", "holdfast/models", "holdfast/kinematics", "holdfast/kinematics/signal", "holdfast/kinematics/body",
		"holdfast/kinematics/attic", "holdfast/screening", "holdfast/report",
		"holdfast/archive", "holdfast/archive/common", "holdfast/desk", "holdfast/desk/queue",
		"holdfast/cmd/holdfast", "holdfast/extra", "holdfast/scripts/internal/bench")
}
