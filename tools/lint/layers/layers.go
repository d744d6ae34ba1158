// Package layers keeps Holdfast's packages apart. Imports point one way:
//
//	cmd -> web -> desk -> archive, report -> screening -> movements -> vision,
//	kinematics -> models, confine, printable -> words
//
// A package may import packages that stand further right, and none of its own
// rank. What lies in internal serves tests alone and may look everywhere. Native
// libraries stay inside vision, and kinematics computes and does nothing else. The rooms of
// some folders have an order of their own:
//
//	kinematics -> measure -> frontal -> joints -> correct -> events -> trace -> movement -> body -> stats -> signal -> notice
//	holdfast -> door -> people -> farm -> place -> terminal, in cmd
//	web -> joblist -> noted -> vitals -> pages -> gate -> secure -> answer -> news
//	upload -> desk -> joined -> queue -> trim -> given -> work -> refusal -> held -> meter
//	archive -> users -> move -> backup -> check -> folder -> halfsent -> rows -> zipped -> store -> bucket -> files -> disk
//	report -> pdf -> pages -> annotate -> sidebyside -> drawn -> chart -> motion -> resultdir -> said
//	vision -> device -> foot -> camera -> pose -> media -> paint -> plane
//	history -> screening -> plain -> headline -> losses -> setting -> known -> footage
package layers

import (
	"go/token"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/tools/go/analysis"
)

// Analyzer reports imports that point the wrong way and packages whose name
// says nothing.
var Analyzer = &analysis.Analyzer{
	Name: "layers",
	Doc:  "report imports that break the layers of the house",
	Run:  run,
}

const module = "holdfast"

// rank orders the folders of the house; a higher one may import a lower one.
var rank = map[string]int{
	"cmd": 8, "web": 7, "desk": 6, "archive": 5, "report": 5, "screening": 4, "movements": 3,
	"vision": 2, "kinematics": 2, "models": 1, "confine": 1, "printable": 1, "words": 0,
}

// rooms are the packages of a folder that has several, from what joins the others down to
// what knows none of them; one may import those after it.
var rooms = map[string][]string{
	"kinematics": {"kinematics", "measure", "frontal", "joints", "correct", "events", "trace", "movement", "body",
		"stats", "signal", "notice"},
	"cmd":  {"holdfast", "door", "people", "farm", "sets", "place", "terminal"},
	"desk": {"upload", "desk", "joined", "queue", "trim", "given", "work", "refusal", "held", "meter"},
	"archive": {"archive", "users", "move", "backup", "check", "folder", "halfsent", "rows", "zipped", "store", "bucket",
		"files", "disk"},
	"screening": {"history", "sets", "screening", "plain", "headline", "losses", "setting", "known",
		"footage"},
	"web": {"web", "joblist", "noted", "vitals", "pages", "gate", "secure", "answer", "news"},
	"report": {"report", "pdf", "pages", "annotate", "sidebyside", "marked", "drawn", "chart", "motion", "resultdir",
		"measures", "said"},
	"vision": {"vision", "device", "foot", "camera", "pose", "media", "paint", "plane",
		"decode"},
}

// forTests is the folder of what the tests of several packages share.
const forTests = "internal"

// exempt are folders with developers' tools and tests' aids, which may look everywhere.
var exempt = []string{"scripts", forTests}

// native lists what only some folders may import.
var native = []struct {
	path    string
	folders []string
	why     string
}{
	{"gocv.io/x/gocv", []string{"vision"},
		"pictures leave vision as canvases, so that no other package answers for native memory"},
	{"github.com/yalue/onnxruntime_go", []string{"vision", "models_test", "cmd_test"},
		"networks run in vision; only tests compare them, and show that telemetry left on is noticed"},
}

// sums is all that kinematics may import outside its tests: it reads no file,
// no clock and no network, so its numbers depend on its arguments alone.
var sums = []string{"cmp", "errors", "fmt", "iter", "maps", "math", "slices", "sort", "strconv",
	"strings", "gonum.org/v1/gonum"}

// meaningless are package names that invite everything.
var meaningless = []string{"util", "utils", "common", "helper", "helpers", "misc", "shared"}

func run(pass *analysis.Pass) (any, error) {
	pkg := strings.TrimSuffix(strings.Fields(pass.Pkg.Path())[0], "_test")
	pkg = strings.TrimSuffix(pkg, ".test")
	if pkg != module && !strings.HasPrefix(pkg, module+"/") {
		return nil, nil
	}
	folder := topFolder(pkg)
	if slices.Contains(exempt, folder) {
		return nil, nil
	}
	for _, file := range pass.Files {
		name := pass.Fset.Position(file.Package).Filename
		if !strings.HasSuffix(name, ".go") || strings.Contains(name, "/go-build/") {
			continue // what cgo and the test runner wrote themselves
		}
		if slices.Contains(meaningless, file.Name.Name) {
			pass.Reportf(file.Name.Pos(), "package %s says nothing about what it holds: name it after that", file.Name.Name)
		}
		for _, spec := range file.Imports {
			path, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				continue
			}
			check(pass, spec.Pos(), pkg, folder, path, strings.HasSuffix(name, "_test.go"))
		}
	}
	return nil, nil
}

func check(pass *analysis.Pass, pos token.Pos, pkg, folder, path string, test bool) {
	if within(path, module) {
		target := topFolder(path)
		_, known := rank[folder]
		switch {
		case target == folder && rooms[folder] != nil:
			checkRooms(pass, pos, folder, pkg, path)
		case target == folder: // one folder may hold several packages
		case target == forTests && test:
		case target == forTests:
			pass.Reportf(pos, "%s must not import %s: it serves tests alone", folder, path)
		case !known:
			pass.Reportf(pos, "%s has no place in the house yet: give it one in tools/lint/layers", pkg)
		case rank[target] >= rank[folder]:
			pass.Reportf(pos, "%s must not import %s: imports point cmd -> web -> desk -> archive, report -> screening -> "+
				"movements -> vision, kinematics -> models, confine, printable -> words", folder, target)
		}
	}
	for _, n := range native {
		place := folder
		if test && !slices.Contains(n.folders, folder) {
			place += "_test"
		}
		if within(path, n.path) && !slices.Contains(n.folders, place) {
			pass.Reportf(pos, "%s must not import %s: %s", folder, n.path, n.why)
		}
	}
	if folder == "kinematics" && !test && !within(path, module) &&
		!slices.ContainsFunc(sums, func(s string) bool { return within(path, s) }) {
		pass.Reportf(pos, "kinematics must not import %s: it computes from its arguments alone", path)
	}
	if folder == "kinematics" && path != module+"/kinematics" && within(path, module) &&
		topFolder(path) != folder && topFolder(path) != forTests && rank[topFolder(path)] < rank[folder] {
		pass.Reportf(pos, "kinematics must not import %s: it knows gonum and the standard library alone", path)
	}
	if folder == "models" && !test && strings.Contains(strings.Split(path, "/")[0], ".") {
		pass.Reportf(pos, "models must not import %s: it is plain files, words and the standard library", path)
	}
}

// checkRooms reports an import inside a folder that does not go down the list of its rooms.
func checkRooms(pass *analysis.Pass, pos token.Pos, folder, pkg, path string) {
	order := rooms[folder]
	from, to := slices.Index(order, roomOf(pkg)), slices.Index(order, roomOf(path))
	switch {
	case pkg == path: // a test outside its package
	case from < 0:
		pass.Reportf(pos, "%s is no room of %s yet: give it a place in tools/lint/layers", pkg, folder)
	case to <= from:
		pass.Reportf(pos, "%s must not import %s: the rooms of %s import in the order %s", pkg, path, folder,
			strings.Join(order, " -> "))
	}
}

// roomOf returns the last folder of a package, which is its room.
func roomOf(path string) string {
	return path[strings.LastIndex(path, "/")+1:]
}

// topFolder returns the first folder below the module, or "" for its root.
func topFolder(path string) string {
	rest := strings.TrimPrefix(strings.TrimPrefix(path, module), "/")
	first, _, _ := strings.Cut(rest, "/")
	return strings.TrimSuffix(first, "_test")
}

func within(path, root string) bool { return path == root || strings.HasPrefix(path, root+"/") }
