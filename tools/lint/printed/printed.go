// Package printed keeps statistics out of the packages that print and draw. A number
// that report or web made of measures would be one that no other output has, and that
// no test of a sum sees: it is computed in kinematics and handed down by screening.
package printed

import (
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/tools/go/analysis"
)

// Analyzer reports statistics in packages that print: gonum, what of package math is not
// needed to draw and to round, and quantiles of the normal distribution written out.
var Analyzer = &analysis.Analyzer{
	Name: "printed",
	Doc:  "report statistics where results are only printed and drawn",
	Run:  run,
}

// printing are the folders that make results visible or hand them on and compute none, with
// what they may use of package math: rounding and what is no number, and where something is
// drawn its places, lengths and turns. Roots, powers and logarithms make other numbers of
// measures.
var printing = map[string][]string{
	"holdfast/report": append(slices.Clone(rounding),
		"Abs", "Ceil", "Floor", "Max", "Min", "Mod", "Trunc", "Signbit", "Atan2",
		"Cos", "Hypot", "Pi", "Sin", "Sincos", "Tan"),
	"holdfast/web":  rounding,
	"holdfast/desk": rounding,
}

var rounding = []string{"Round", "Pow10", "Inf", "IsInf", "IsNaN", "NaN"}

// quantiles are factors from a standard deviation to an interval.
var quantiles = []string{"1.96", "1.959", "1.64", "2.57"}

func run(pass *analysis.Pass) (any, error) {
	pkg := strings.TrimSuffix(strings.Fields(pass.Pkg.Path())[0], "_test")
	pkg = strings.TrimSuffix(pkg, ".test")
	var allowed []string
	for folder, names := range printing {
		if within(pkg, folder) {
			allowed = names
		}
	}
	if allowed == nil {
		return nil, nil
	}
	for _, file := range pass.Files {
		if strings.HasSuffix(pass.Fset.Position(file.Package).Filename, "_test.go") {
			continue
		}
		for _, spec := range file.Imports {
			path, err := strconv.Unquote(spec.Path.Value)
			if err == nil && within(path, "gonum.org/v1") {
				pass.Reportf(spec.Pos(), "%s must not import %s: it prints what kinematics computes", pkg, path)
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.Ident:
				check(pass, n, allowed)
			case *ast.BasicLit:
				if n.Kind == token.FLOAT && quantile(n) {
					pass.Reportf(n.Pos(), "%s makes an interval of its own: screening.Interval95 has it", n.Value)
				}
			}
			return true
		})
	}
	return nil, nil
}

// check reports a name of package math that is not allowed, however it was imported.
func check(pass *analysis.Pass, name *ast.Ident, allowed []string) {
	o := pass.TypesInfo.Uses[name]
	if o == nil || o.Pkg() == nil || o.Pkg().Path() != "math" || slices.Contains(allowed, o.Name()) {
		return
	}
	if c, ok := o.(*types.Const); ok && c.Val().Kind() == constant.Int {
		return // limits of whole numbers
	}
	pass.Reportf(name.Pos(), "math.%s makes a new number of measures: compute it in kinematics and print it here",
		o.Name())
}

// quantile says whether a number begins as one of the quantiles does.
func quantile(n *ast.BasicLit) bool {
	return slices.ContainsFunc(quantiles, func(q string) bool {
		return strings.HasPrefix(strings.TrimPrefix(n.Value, "+"), q)
	})
}

func within(path, root string) bool { return path == root || strings.HasPrefix(path, root+"/") }
