package size

import (
	"testing"

	"golang.org/x/tools/go/analysis/analysistest"
)

func TestSize(t *testing.T) {
	most = 5
	analysistest.Run(t, analysistest.TestData(), Analyzer, "holdfast/small", "holdfast/large")
}
