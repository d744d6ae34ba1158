// Package size keeps packages as small as somebody can read in an afternoon.
package size

import (
	"strings"

	"golang.org/x/tools/go/analysis"
)

// Analyzer reports packages of more lines than most, tests left out.
var Analyzer = &analysis.Analyzer{
	Name: "size",
	Doc:  "report packages that are too long to be read",
	Run:  run,
}

// most is how many lines a package may have; common practice, no source.
var most = 2500

func run(pass *analysis.Pass) (any, error) {
	path := strings.Fields(pass.Pkg.Path())[0] // with its tests it has their name behind it
	lines := 0
	first := -1
	for i, f := range pass.Files {
		file := pass.Fset.File(f.Pos())
		if !strings.HasSuffix(file.Name(), ".go") || strings.HasSuffix(file.Name(), "_test.go") ||
			strings.Contains(file.Name(), "/go-build/") {
			continue // tests, and what cgo and the test runner wrote themselves
		}
		if first < 0 {
			first = i
		}
		lines += file.LineCount()
	}
	if first < 0 {
		return nil, nil
	}
	at := pass.Files[first].Name.Pos()
	if lines > most {
		pass.Reportf(at, "%s has %d lines: give what belongs together a room of its own, %d are plenty", path, lines, most)
	}
	return nil, nil
}
