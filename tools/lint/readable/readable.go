// Package readable keeps functions and lines to what a reader takes in: a function that fills two screens, or has more
// ways through it than anybody follows, is parted where its work parts.
package readable

import (
	"bufio"
	"bytes"
	"go/ast"
	"go/token"
	"strings"
	"unicode/utf8"

	"github.com/fzipp/gocyclo"
	"golang.org/x/tools/go/analysis"
)

// Analyzer reports functions and lines that are too long. Tests are let off the functions' limits: tables are
// long and plain.
var Analyzer = &analysis.Analyzer{
	Name: "readable",
	Doc:  "report functions of too many lines or ways through, and lines that are too long",
	Run:  run,
}

const (
	maxLines   = 80
	maxColumns = 120
	// maxWays is McCabe's cyclomatic complexity, with every && and || counted (IEEE Trans. Softw. Eng. 2(4), 1976): about
	// twenty branches, and what their conditions add.
	maxWays = 26
)

// longer names functions that may be longer, by package and name (of a method, its type's before it), with the reason.
// The list only shrinks.
var longer = map[string]string{
	"holdfast/internal/compared.Analysis":            "an analysis, part after part",
	"holdfast/internal/compared.Full":                "a comparison, part after part",
	"holdfast/kinematics/body.bodyFit.guess":         "a first value of each unknown, one after the other",
	"holdfast/kinematics/joints.footPitch":           "the sources of one number, in the order in which they are believed",
	"holdfast/kinematics/joints.Smooth":              "a switch between two ways that share what goes before and after",
	"holdfast/kinematics/measure.FindScale":          "the sources of one number, in the order in which they are believed",
	"holdfast/report/pdf.sheets.athlete":             "a sheet, from top to bottom",
	"holdfast/report/annotate.Write":                 "the pictures of a folder, one after the other",
	"holdfast/report/pages.Material.coordination":    "a drawing, stroke after stroke",
	"holdfast/scripts/internal/accuracy.measureShoe": "a table, column after column",
	"holdfast/scripts/internal/bench.run":            "a list of measurements, one after the other",
	"holdfast/scripts/internal/render/body.Dress":    "a list of clothes, one after the other",
	"holdfast/vision/paint.headPath.at":              "the sources of one place, in the order in which they are believed",
	"holdfast/vision/camera.plumb.find":              "one pass with one state; its parts would hand all of it about",
	"holdfast/web.Server.handleUpload":               "the refusals of an upload, before it is read",
	"holdfast/vision/media.damageWatch.line":         "the sentences that a decoder says, a case each",
}

func run(pass *analysis.Pass) (any, error) {
	pkg, _, _ := strings.Cut(pass.Pkg.Path(), " ")
	pkg = strings.TrimSuffix(strings.TrimSuffix(pkg, ".test"), "_test")
	if pkg != "holdfast" && !strings.HasPrefix(pkg, "holdfast/") {
		return nil, nil
	}
	for _, file := range pass.Files {
		name := pass.Fset.Position(file.Package).Filename
		if !strings.HasSuffix(name, ".go") || strings.Contains(name, "/go-build/") || ast.IsGenerated(file) {
			continue // what cgo and the test runner wrote themselves
		}
		if err := checkColumns(pass, file, name); err != nil {
			return nil, err
		}
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		for _, decl := range file.Decls {
			if fn, ok := decl.(*ast.FuncDecl); ok && fn.Body != nil {
				checkFunction(pass, fn, longer[pkg+"."+nameOf(fn)] != "")
			}
		}
	}
	return nil, nil
}

// checkFunction reports a function that is too long, and one that is excused and is not.
func checkFunction(pass *analysis.Pass, fn *ast.FuncDecl, excused bool) {
	lines := pass.Fset.Position(fn.End()).Line - pass.Fset.Position(fn.Pos()).Line + 1
	ways := gocyclo.Complexity(fn)
	const do = "part it, or give a reason in tools/lint/readable"
	switch long, many := lines > maxLines, ways > maxWays; {
	case excused && !long && !many:
		pass.Reportf(fn.Name.Pos(), "%s is short enough: take it out of the list in tools/lint/readable", nameOf(fn))
	case excused:
	case long:
		pass.Reportf(fn.Name.Pos(), "%s has %d lines, more than %d: %s", nameOf(fn), lines, maxLines, do)
	case many:
		pass.Reportf(fn.Name.Pos(), "%s has %d ways through it, more than %d: %s", nameOf(fn), ways, maxWays, do)
	}
}

// nameOf returns a function's name, a method's with its type's before it.
func nameOf(fn *ast.FuncDecl) string {
	if fn.Recv == nil || len(fn.Recv.List) == 0 {
		return fn.Name.Name
	}
	of := fn.Recv.List[0].Type
	if star, ok := of.(*ast.StarExpr); ok {
		of = star.X
	}
	switch generic := of.(type) {
	case *ast.IndexExpr:
		of = generic.X
	case *ast.IndexListExpr:
		of = generic.X
	}
	if id, ok := of.(*ast.Ident); ok {
		return id.Name + "." + fn.Name.Name
	}
	return fn.Name.Name
}

// checkColumns counts a tab as one column, as gofmt's authors leave its width to the reader.
func checkColumns(pass *analysis.Pass, file *ast.File, name string) error {
	source, err := pass.ReadFile(name)
	if err != nil {
		return err
	}
	place := pass.Fset.File(file.FileStart)
	lines := bufio.NewScanner(bytes.NewReader(source))
	lines.Buffer(nil, 1<<20)
	for n := 1; lines.Scan(); n++ {
		if columns := utf8.RuneCount(lines.Bytes()); columns > maxColumns && n <= place.LineCount() {
			pass.Reportf(place.LineStart(n)+token.Pos(maxColumns), "a line of %d columns, more than %d", columns, maxColumns)
		}
	}
	return lines.Err()
}
