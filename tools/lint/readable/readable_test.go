package readable

import (
	"testing"

	"golang.org/x/tools/go/analysis/analysistest"
)

// TestReadable lets the analyzer loose on samples that say what must be reported, and where.
func TestReadable(t *testing.T) {
	analysistest.Run(t, analysistest.TestData(), Analyzer, "holdfast/samples")
}
