package size

import (
	"testing"

	"golang.org/x/tools/go/analysis/analysistest"
)

func TestSize(t *testing.T) {
	most, longer = 5, map[string]int{"holdfast/listed": 6, "holdfast/shrunk": 9}
	analysistest.Run(t, analysistest.TestData(), Analyzer, "holdfast/small", "holdfast/large", "holdfast/listed", "holdfast/shrunk")
}
