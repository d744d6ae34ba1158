package unchecked

import (
	"testing"

	"golang.org/x/tools/go/analysis/analysistest"
)

func TestUnchecked(t *testing.T) {
	analysistest.Run(t, analysistest.TestData(), Analyzer, "sample")
}
