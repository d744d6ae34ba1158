package web

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"holdfast/web/pages"
)

// handlerName is the name of the method that a route calls.
func handlerName(r route) string {
	name := runtime.FuncForPC(reflect.ValueOf(r.handler).Pointer()).Name()
	return name[strings.LastIndexByte(name, '.')+1:]
}

// Every method of the server that answers requests is in the table, once, and nothing is
// served past the table.
func TestEachHandlerHasItsRoute(t *testing.T) {
	in := map[string]int{}
	for _, r := range routes {
		in[handlerName(r)]++
	}
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	handlers := 0
	look := func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			name := n.Name.Name
			if n.Recv != nil && (strings.HasPrefix(name, "handle") || regexp.MustCompile(`^\w+(Page|Part)$`).MatchString(name)) {
				handlers++
				if in[name] != 1 {
					t.Errorf("%s is in the table %d times", name, in[name])
				}
			}
		case *ast.SelectorExpr:
			if name := n.Sel.Name; name == "Handle" || name == "HandleFunc" && !strings.Contains(fmt.Sprint(n.X), "mux") {
				t.Errorf("a handler is registered past the table by %s", name)
			}
		}
		return true
	}
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, look)
	}
	if handlers < 40 {
		t.Errorf("%d handlers were found", handlers)
	}
}

// address is a path that a route takes.
func (r route) address() string {
	return regexp.MustCompile(`\{[^}]*\}`).ReplaceAllStringFunc(r.path, func(part string) string {
		if part == "{$}" {
			return ""
		}
		return "none"
	})
}

// Without the password only what belongs to logging in is answered, and nothing is changed
// without the header but by the form.
func TestEachRouteIsGuarded(t *testing.T) {
	b := newIdleBench(t, func(o *Options) {
		o.Address, o.Password = &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 7070}, "correct horse"
	})
	for _, r := range routes {
		method := r.method
		if method == "" {
			method = "PUT"
		}
		w := b.send(method, r.address(), nil, nil)
		if refused := w.Code == http.StatusUnauthorized && strings.Contains(w.Body.String(),
			"log in first"); refused != (r.needs == needsSession || r.needs == needsAdmin) {
			t.Errorf("%s without the password: %d %.100s", r.pattern(), w.Code, w.Body)
		}
		if method == "GET" {
			continue
		}
		w = b.send(method, r.address(), nil, func(req *http.Request) { req.Header.Del("X-Holdfast") })
		if refused := w.Code == http.StatusForbidden; refused != (r.needs != needsForm) {
			t.Errorf("%s without the header: %d", r.pattern(), w.Code)
		}
	}
}

// A request that reads writes nothing: neither a row nor a file, on an archive with a clip
// that was corrected behind the page's back.
func TestReadingWritesNothing(t *testing.T) {
	b := newBench(t, nil)
	ids := b.measured("slow.mp4", "fast.mp4")
	var made struct{ ID string }
	b.want(201, "POST", "/api/comparisons", fmt.Sprintf(`{"clips":[%q,%q]}`, ids[0], ids[1]), &made)
	b.report(made.ID, "coach.pdf")
	if _, err := b.s.archive.AddCorrection(t.Context(), ids[0], []byte(`{"vertical_deg":2}`), "upright"); err != nil {
		t.Fatal(err)
	}
	clip, err := b.s.archive.Clip(t.Context(), ids[0])
	if err != nil {
		t.Fatal(err)
	}
	b.settle()
	state := func() string {
		var all strings.Builder
		err := filepath.WalkDir(b.s.archive.Dir(), func(path string, e os.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			if strings.HasSuffix(path, "-shm") { // SQLite's memory of who reads
				return nil
			}
			info, err := e.Info()
			if err == nil {
				fmt.Fprintln(&all, path, info.Size(), info.ModTime())
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return all.String()
	}
	before := state()
	for _, r := range routes {
		if r.method != "GET" || r.path == "/api/events" { // which does not end
			continue
		}
		id := map[bool]string{true: clip.AthleteID, false: ids[0]}[strings.Contains(r.path, "/athletes/")]
		if strings.Contains(r.path, "/comparisons/") {
			id = made.ID
		}
		address := strings.NewReplacer("{id}", id, "{$}", "", "{name...}", "coach.pdf", "{hash}",
			pages.AssetVersion()).Replace(r.path)
		for _, accept := range []string{"application/json", "text/html"} {
			w := b.send("GET", address, nil, func(r *http.Request) { r.Header.Set("Accept", accept) })
			if w.Code >= 500 {
				t.Errorf("%s: %d %s", address, w.Code, w.Body)
			}
		}
		if after := state(); after != before {
			t.Errorf("%s has written:\n%s\nwhere was\n%s", address, after, before)
			before = after
		}
	}
}
