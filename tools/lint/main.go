// Command holdfast-lint holds the checks that every change to Holdfast passes.
// It speaks the protocol of go vet, which caches the verdict on each package:
//
//	go vet -vettool=bin/holdfast-lint ./...
//
// It lives in a module of its own, so that the program's go.mod lists what the
// program needs and no more.
package main

import (
	"fmt"
	"os"

	"github.com/gordonklaus/ineffassign/pkg/ineffassign"
	"golang.org/x/tools/go/analysis"
	"golang.org/x/tools/go/analysis/passes/nilness"
	"golang.org/x/tools/go/analysis/unitchecker"
	"honnef.co/go/tools/analysis/lint"
	"honnef.co/go/tools/simple"
	"honnef.co/go/tools/staticcheck"
	"honnef.co/go/tools/stylecheck"

	"holdfast-lint/layers"
	"holdfast-lint/printed"
	"holdfast-lint/readable"
	"holdfast-lint/size"
	"holdfast-lint/unchecked"
)

// chosen lists the checks that are taken over from staticcheck, each with the
// reason why it is worth its noise here. What go vet itself reports is left out.
var chosen = []struct{ name, why string }{
	// Wrong on every run.
	{"SA1000", "a regular expression that does not compile fails at run time, far from its author"},
	{"SA1006", "a clip's name with a per cent sign must not become a format string"},
	{"SA1012", "a nil context panics in the callee"},
	{"SA1015", "time.Tick leaks its ticker; every goroutine here has an end"},
	{"SA1016", "catching SIGKILL looks like a clean-up that never runs"},
	{"SA1017", "an unbuffered signal channel loses the interrupt"},
	{"SA1019", "deprecated calls of gonum, gocv and the standard library go stale"},
	{"SA1029", "plain string keys in a context collide between packages"},
	{"SA2000", "WaitGroup.Add inside its goroutine is a race"},
	{"SA2001", "an empty critical section is a forgotten defer"},
	{"SA2002", "t.FailNow off the test's goroutine does not stop the test"},
	{"SA2003", "defer Lock instead of defer Unlock is a deadlock"},
	{"SA3001", "assigning b.N spoils a benchmark"},

	// Mostly slips in sums.
	{"SA4000", "the same expression on both sides of an operator: a mistyped coordinate"},
	{"SA4003", "a comparison that is always true hides a missing bound"},
	{"SA4004", "a loop that always leaves in its first round"},
	{"SA4006", "a value that is never used: often the wrong variable was used instead"},
	{"SA4008", "a loop whose condition never changes"},
	{"SA4009", "an argument that is overwritten before use"},
	{"SA4010", "appended results that nobody reads"},
	{"SA4012", "nothing equals NaN, and here a missing value is NaN"},
	{"SA4013", "a double negation"},
	{"SA4014", "the same condition twice in an if-else chain"},
	{"SA4015", "math.Floor of a whole number: the conversion came too early"},
	{"SA4017", "the result of a pure function thrown away, as in strings.TrimSpace(s)"},
	{"SA4018", "a self-assignment: a mistyped field"},
	{"SA4020", "a case of a type switch that cannot be reached"},
	{"SA4023", "an interface that is never nil compared with nil: an error that is always returned"},
	{"SA4027", "changing a copy of a URL's query"},

	// Crashes and leaks.
	{"SA5000", "writing to a nil map panics"},
	{"SA5001", "deferring Close before the error is looked at"},
	{"SA5002", "a loop condition that cannot end"},
	{"SA5003", "a defer in an endless loop never runs: native memory piles up"},
	{"SA5005", "a finalizer that holds its own object never runs"},
	{"SA5007", "endless recursion"},
	{"SA5010", "a type assertion that cannot hold"},
	{"SA5012", "an odd number of key-value arguments"},

	// Speed in loops over frames, and looks.
	{"SA6000", "compiling a regular expression in a loop"},
	{"SA6005", "comparing lower-cased strings where EqualFold is meant"},
	{"SA9001", "a defer in a loop over a channel runs too late"},
	{"SA9003", "an empty branch: a case that was forgotten"},
	{"SA9004", "only the first constant of a group has the type"},
	{"SA9005", "marshalling a struct without exported fields writes {}"},

	// Plainer ways to write the same: readers are coaches' engineers, not golfers.
	{"S1000", "select with one case"},
	{"S1002", "comparing with true"},
	{"S1005", "needless blank identifiers"},
	{"S1008", "if x { return true }; return false"},
	{"S1011", "append with a spread instead of a loop"},
	{"S1017", "strings.TrimPrefix instead of a check and a slice"},
	{"S1021", "declaration and assignment in one"},
	{"S1023", "needless return and break"},
	{"S1025", "Sprintf of a string"},
	{"S1028", "fmt.Errorf, so that the cause can be wrapped"},
	{"S1031", "a nil check around a range"},
	{"S1034", "the value a type switch already has"},
	{"S1039", "Sprint without a format"},

	// How errors and names read.
	{"ST1005", "error texts are joined into one line, so they begin small and end without a full stop"},
	{"ST1006", "receivers named this or self"},
	{"ST1008", "the error comes last"},
	{"ST1012", "sentinel errors are found by their name, ErrX"},
	{"ST1016", "one receiver name a type"},
	{"ST1017", "conditions read left to right"},
	{"ST1018", "invisible characters in a string"},
	{"ST1019", "a package imported twice"},
	{"ST1023", "the type of a declaration said twice"},
}

func main() {
	known := map[string]*analysis.Analyzer{}
	for _, group := range [][]*lint.Analyzer{staticcheck.Analyzers, simple.Analyzers, stylecheck.Analyzers} {
		for _, a := range group {
			known[a.Analyzer.Name] = a.Analyzer
		}
	}
	analyzers := []*analysis.Analyzer{
		layers.Analyzer,      // the directions of import, see its package comment
		printed.Analyzer,     // statistics where results are only printed
		size.Analyzer,        // packages that are too long to be read
		readable.Analyzer,    // functions and lines that are too long
		unchecked.Analyzer,   // errors that nobody looks at
		ineffassign.Analyzer, // assignments that are never read
		nilness.Analyzer,     // pointers used where they must be nil
	}
	for _, c := range chosen {
		a := known[c.name]
		if a == nil {
			fmt.Fprintf(os.Stderr, "holdfast-lint: there is no check %s (%s)\n", c.name, c.why)
			os.Exit(1)
		}
		analyzers = append(analyzers, a)
	}
	unitchecker.Main(analyzers...)
}
