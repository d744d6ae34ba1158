package printed

import (
	"testing"

	"golang.org/x/tools/go/analysis/analysistest"
)

// TestPrinted lets the analyzer loose on packages that print; the sample files say what
// must be reported, and where.
func TestPrinted(t *testing.T) {
	analysistest.Run(t, analysistest.TestData(), Analyzer, "holdfast/report", "holdfast/web", "holdfast/screening")
}
