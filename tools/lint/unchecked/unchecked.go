// Package unchecked reports calls whose error nobody looks at.
package unchecked

import (
	"go/ast"
	"go/token"
	"strings"

	"github.com/kisielk/errcheck/errcheck"
	"golang.org/x/tools/go/analysis"
)

// Analyzer is errcheck with three things let pass: a deferred Close or Destroy
// (what was written is closed by hand and its error returned; a deferred one
// tidies up), printing to a stream (the writer that can fail is looked at once,
// at its end), and test files.
var Analyzer = &analysis.Analyzer{
	Name:     "unchecked",
	Doc:      "report calls whose error nobody looks at",
	Requires: []*analysis.Analyzer{errcheck.Analyzer},
	Run:      run,
}

func init() {
	errcheck.DefaultExcludedSymbols = append(errcheck.DefaultExcludedSymbols,
		"fmt.Fprint", "fmt.Fprintf", "fmt.Fprintln",
		// Closing a picture in native memory cannot usefully fail.
		"(*gocv.io/x/gocv.Mat).Close",
		// Removing what is temporary: the next run does it again.
		"os.Remove", "os.RemoveAll",
	)
}

func run(pass *analysis.Pass) (any, error) {
	found := pass.ResultOf[errcheck.Analyzer].(errcheck.Result)
	deferred := map[token.Pos]bool{}
	for _, f := range pass.Files {
		ast.Inspect(f, func(n ast.Node) bool {
			if d, ok := n.(*ast.DeferStmt); ok {
				deferred[d.Call.Lparen] = true
			}
			return true
		})
	}
	lines := map[string]bool{} // positions of deferred calls as errcheck prints them
	for pos := range deferred {
		lines[pass.Fset.Position(pos).String()] = true
	}
	for _, u := range found.UncheckedErrors {
		if strings.HasSuffix(u.Pos.Filename, "_test.go") {
			continue
		}
		if (strings.HasSuffix(u.FuncName, ".Close") || strings.HasSuffix(u.FuncName, ".Destroy")) && lines[u.Pos.String()] {
			continue
		}
		pass.Reportf(position(pass, u.Pos), "the error of %s is not looked at", u.FuncName)
	}
	return nil, nil
}

// position finds the place in the file set that a printed position stands for.
func position(pass *analysis.Pass, p token.Position) token.Pos {
	for _, f := range pass.Files {
		if file := pass.Fset.File(f.Pos()); file.Name() == p.Filename && p.Offset < file.Size() {
			return file.Pos(p.Offset)
		}
	}
	return token.NoPos
}
