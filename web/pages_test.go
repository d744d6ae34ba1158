package web

import (
	"bytes"
	"compress/gzip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/archive/files"
	"holdfast/internal/fakework"
	"holdfast/kinematics/events"
	"holdfast/printable"
	"holdfast/web/pages"
)

// hostile is a name that would run if it were ever taken for markup.
const hostile = `<img src=x onerror=alert(1)>"'` + "`{{.}}" + `</script> &amp; Ünï`

// furnished is a server with an athlete of a hostile name and notes, a visit, two
// measured clips and a comparison.
type furnished struct {
	*bench
	athlete    archive.Athlete
	clips      []archive.Clip
	comparison archive.Comparison
}

func furnish(t *testing.T) furnished {
	t.Helper()
	b := newIdleBench(t, nil)
	ctx := t.Context()
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	put := func(text string) archive.File {
		f, err := b.s.archive.Put(ctx, strings.NewReader(text), 1<<20)
		check(err)
		return f
	}
	height := 171.5
	a, err := b.s.archive.CreateAthlete(ctx, archive.Athlete{Name: hostile, Notes: hostile + "\nsecond line",
		HeightCm: &height})
	check(err)
	load := 20.0
	v, err := b.s.archive.VisitFor(ctx, archive.Visit{AthleteID: a.ID, Date: "2025-05-02", Condition: archive.Loaded,
		LoadKg: &load})
	check(err)
	out := furnished{bench: b, athlete: a}
	for i, tempo := range []string{"slow", "fast"} {
		c, _, err := b.s.archive.AddClip(ctx, archive.Clip{AthleteID: a.ID, VisitID: v.ID, Name: fmt.Sprint(i, hostile),
			SHA256: put("clip " + tempo).SHA256, SizeBytes: 5})
		check(err)
		analysis := fakework.Analysis(c.Name)
		for k := range analysis.Reps {
			analysis.Reps[k].Tempo = events.Tempo(tempo)
		}
		var text bytes.Buffer
		check(printable.WriteJSON(&text, analysis))
		files := []archive.File{put(text.String()), put("start " + tempo), put("bottom " + tempo)}
		files[0].Name = "analysis.json"
		files[1].Name, files[2].Name = "frames/rep01_1_start_"+tempo+".png", "frames/rep01_2_bottom_"+tempo+".png"
		_, err = b.s.archive.SaveResult(ctx, c.ID, files, 0)
		check(err)
		c, err = b.s.archive.Clip(ctx, c.ID)
		check(err)
		out.clips = append(out.clips, c)
	}
	out.comparison, err = b.s.archive.SaveComparison(ctx, a.ID, []string{out.clips[0].ID, out.clips[1].ID}, nil)
	check(err)
	return out
}

// paths are all pages that a furnished server has.
func (f furnished) paths() []string {
	return []string{"/", "/recent", "/athletes", "/athletes/" + f.athlete.ID, "/clips/" + f.clips[0].ID, "/compare",
		"/compare?athlete=" + f.athlete.ID,
		"/comparisons/" + f.comparison.ID, "/about"}
}

// see asks for a page as a browser does.
func (b *bench) see(path string) (int, string, http.Header) {
	r := b.send("GET", path, nil, func(r *http.Request) { r.Header.Set("Accept", "text/html,*/*;q=0.8") })
	return r.Code, r.Body.String(), r.Header()
}

// element is one of a page; text is what stands in it directly.
type element struct {
	name   string
	attrs  map[string]string
	parent *element
	text   string
}

// elements lists the elements of a page.
func elements(t *testing.T, page string) []*element {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var out []*element
	at := &element{}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatalf("a page cannot be read: %v", err)
		}
		switch x := token.(type) {
		case xml.StartElement:
			n := &element{name: x.Name.Local, attrs: map[string]string{}, parent: at}
			for _, a := range x.Attr {
				n.attrs[a.Name.Local] = a.Value
			}
			out, at = append(out, n), n
		case xml.EndElement:
			if at = at.parent; at == nil {
				t.Fatal("a page closes more than it opens")
			}
		case xml.CharData:
			at.text += string(x)
		}
	}
}

func TestPagesHoldNamesAsTextOnly(t *testing.T) {
	f := furnish(t)
	for _, path := range f.paths() {
		code, text, header := f.see(path)
		if code != http.StatusOK || !strings.HasPrefix(header.Get("Content-Type"), "text/html") {
			t.Errorf("%s: %d %s", path, code, header.Get("Content-Type"))
			continue
		}
		named := false
		for _, n := range elements(t, text) {
			if n.name == "img" && n.attrs["src"] == "x" {
				t.Errorf("%s: a name became a picture", path)
			}
			for key, value := range n.attrs {
				// The policy forbids them; they would silently do nothing.
				if strings.HasPrefix(key, "on") || key == "style" {
					t.Errorf("%s: <%s> has the attribute %s", path, n.name, key)
				}
				named = named || strings.Contains(value, hostile)
			}
			switch n.name {
			case "style":
				t.Errorf("%s: has a style element", path)
			case "script":
				if n.attrs["src"] == "" || n.text != "" {
					t.Errorf("%s: has a script of its own", path)
				}
			}
			named = named || strings.Contains(n.text, hostile)
		}
		if !named && path != "/about" {
			t.Errorf("%s: does not show the name as it was typed", path)
		}
	}
}

func TestPagesNameTheirFieldsAndParts(t *testing.T) {
	f := furnish(t)
	for _, path := range f.paths() {
		if path == "/recent" {
			continue // a part of a page
		}
		_, text, _ := f.see(path)
		all := elements(t, text)
		ids := map[string]int{}
		labels := map[string]bool{}
		mains, heads := 0, 0
		for _, n := range all {
			if id := n.attrs["id"]; id != "" {
				ids[id]++
			}
			switch n.name {
			case "label":
				labels[n.attrs["for"]] = true
			case "main":
				mains++
			case "h1":
				heads++
			}
		}
		if mains != 1 || heads != 1 {
			t.Errorf("%s: %d main parts and %d first headings, want one of each", path, mains, heads)
		}
		for id, n := range ids {
			if n > 1 {
				t.Errorf("%s: the id %s stands %d times", path, id, n)
			}
		}
		for _, n := range all {
			for _, a := range []string{"aria-labelledby", "aria-describedby", "aria-controls", "for", "data-opens"} {
				for _, id := range strings.Fields(n.attrs[a]) {
					if ids[id] == 0 {
						t.Errorf("%s: <%s %s=%q> leads nowhere", path, n.name, a, id)
					}
				}
			}
			switch n.name {
			case "input", "select", "textarea":
				inLabel := n.parent.name == "label"
				if !inLabel && !labels[n.attrs["id"]] && n.attrs["aria-label"] == "" {
					t.Errorf("%s: the field %q has no label", path, n.attrs["id"])
				}
			case "img":
				if _, has := n.attrs["alt"]; !has {
					t.Errorf("%s: a picture has no alternative text", path)
				}
			}
		}
	}
}

// TestPagesUseWhatIsThere follows every address of the pages that leads to the
// server itself.
func TestPagesUseWhatIsThere(t *testing.T) {
	f := furnish(t)
	seen := map[string]bool{}
	for _, path := range f.paths() {
		_, text, _ := f.see(path)
		for _, n := range elements(t, text) {
			for _, name := range []string{"href", "src", "action"} {
				to := n.attrs[name]
				if !strings.HasPrefix(to, "/") || seen[to] {
					if to != "" && !strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "#") {
						t.Errorf("%s: <%s> leads away to %q", path, n.name, to)
					}
					continue
				}
				seen[to] = true
				if code, _, _ := f.see(to); code != http.StatusOK {
					t.Errorf("%s: %s answers %d", path, to, code)
				}
			}
		}
	}
	if len(seen) < 15 {
		t.Errorf("only %d addresses found", len(seen))
	}
}

func TestEmptyPagesSayWhatToDo(t *testing.T) {
	b := newIdleBench(t, nil)
	for path, want := range map[string]string{"/": "Drop your first clip", "/athletes": "Nobody is here yet",
		"/compare": "Nobody to compare yet"} {
		if code, text, _ := b.see(path); code != http.StatusOK || !strings.Contains(text, want) {
			t.Errorf("%s: %d, without %q", path, code, want)
		}
	}
	a, err := b.s.archive.CreateAthlete(t.Context(), archive.Athlete{Name: "Kim"})
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{"/athletes/" + a.ID: "No visits yet",
		"/compare?athlete=" + a.ID: "Two clips are needed"} {
		if code, text, _ := b.see(path); code != http.StatusOK || !strings.Contains(text, want) {
			t.Errorf("%s: %d, without %q", path, code, want)
		}
	}
}

func TestErrorsArePagesForPeople(t *testing.T) {
	f := furnish(t)
	for _, path := range []string{"/nothing", "/clips/nothing", "/athletes/00000000-0000-0000-0000-000000000000",
		"/comparisons/x", "/assets/000000000000/js/clip.js", "/compare?athlete=x"} {
		code, text, header := f.see(path)
		if code != http.StatusNotFound || !strings.Contains(text, `data-testid="error-page"`) ||
			!strings.Contains(text, "To the first page") {
			t.Errorf("%s: %d %.80q", path, code, text)
		}
		if header.Get("Content-Security-Policy") == "" {
			t.Errorf("%s: no policy", path)
		}
	}
	r := f.send("GET", "/api/nothing", nil, func(r *http.Request) { r.Header.Set("Accept", "text/html") })
	if kind := r.Header().Get("Content-Type"); !strings.HasPrefix(kind, "application/json") {
		t.Errorf("the API answers with %s", kind)
	}
}

func TestLogInPage(t *testing.T) {
	b := newIdleBench(t, func(o *Options) {
		o.Address = &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 7070}
		o.Password = "correct horse"
	})
	for query, want := range map[string]string{"": "Password", "?wrong=1": "The password is wrong",
		"?wait=1": "Wait a minute", "?expired=1": "too old"} {
		code, text, header := b.see("/login" + query)
		if code != http.StatusOK || !strings.Contains(text, want) {
			t.Errorf("/login%s: %d, without %q", query, code, want)
		}
		// What is only for those who are in is not even named.
		if strings.Contains(text, "/athletes") {
			t.Errorf("/login%s shows the menu", query)
		}
		// Browsers name no origin for a form of a page without referrer.
		if got := header.Get("Referrer-Policy"); got != "same-origin" {
			t.Errorf("/login%s: its form would come without an origin, its policy is %q", query, got)
		}
	}
	if code, _, header := b.see("/athletes"); code != http.StatusSeeOther || header.Get("Location") != "/login" {
		t.Errorf("a page without the password: %d", code)
	}
	if code, _, _ := b.see("/assets/" + pages.AssetVersion() + "/css/holdfast.css"); code != http.StatusOK {
		t.Errorf("the log-in page has no style: %d", code)
	}
}

// Where clips, names and numbers lie, and who may see them, is said as it is.
func TestAboutSaysWhereThingsAre(t *testing.T) {
	const here, store, named = "stay in one folder on the computer that runs Holdfast, and it works",
		"clips and pictures lie where", "Only users whom an admin has added"
	for name, tt := range map[string]struct {
		b    *bench
		want []string
		not  []string
	}{
		"a folder": {newIdleBench(t, nil), []string{here, "with a password"}, []string{store, named}},
		"a store": {newIdleBench(t, func(o *Options) {
			dir := t.TempDir()
			a, err := archive.Open(t.Context(), dir, archive.Options{Files: files.Folder{Root: t.TempDir()}})
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() {
				if err := a.Close(); err != nil {
					t.Error(err)
				}
			})
			o.Desk.Archive, o.Desk.WorkDir = a, filepath.Join(dir, "tmp", "work")
		}), []string{store}, []string{here}},
		"users": {newHouse(t, nil).bench, []string{here, named}, []string{"with a password"}},
	} {
		text := tt.b.send("GET", "/about", nil, nil).Body.String()
		if name == "users" {
			h := &house{bench: tt.b, cookies: map[string]string{}}
			h.logIn("own")
			text = h.as("own", "GET", "/about", "").Body.String()
		}
		for _, want := range tt.want {
			if !strings.Contains(text, want) {
				t.Errorf("with %s it does not say %q", name, want)
			}
		}
		for _, not := range tt.not {
			if strings.Contains(text, not) {
				t.Errorf("with %s it says %q", name, not)
			}
		}
	}
}

func TestAssetsAreSent(t *testing.T) {
	b := newIdleBench(t, nil)
	n := 0
	files := os.DirFS("pages/assets")
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Ext(name) == ".md" {
			return err
		}
		n++
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		code, body, header := b.see("/assets/" + pages.AssetVersion() + "/" + name)
		_, kind, _ := pages.Asset(name)
		if code != http.StatusOK || body != string(text) || header.Get("Content-Type") != kind {
			t.Errorf("%s: %d %s", name, code, header.Get("Content-Type"))
		}
		if !strings.Contains(header.Get("Cache-Control"), "immutable") {
			t.Errorf("%s: is not kept", name)
		}
		packed := b.send("GET", "/assets/"+pages.AssetVersion()+"/"+name, nil, func(r *http.Request) {
			r.Header.Set("Accept-Encoding", "br, gzip")
		})
		z, err := gzip.NewReader(packed.Body)
		if err != nil || packed.Header().Get("Content-Encoding") != "gzip" {
			t.Fatalf("%s is not sent packed: %v", name, err)
		}
		if back, err := io.ReadAll(z); err != nil || !bytes.Equal(back, text) {
			t.Errorf("%s, unpacked, is %d bytes (%v), want %d", name, len(back), err, len(text))
		}
		return nil
	})
	if err != nil || n < 15 {
		t.Errorf("%d assets, %v", n, err)
	}
	if code, _, _ := b.see("/assets/" + pages.AssetVersion() + "/vendor/README.md"); code != http.StatusNotFound {
		t.Errorf("a file that is no asset: %d", code)
	}
	for _, name := range []string{"../pages.go", "%2e%2e/pages.go", "js/../../pages.go", "js"} {
		code, text, _ := b.see("/assets/" + pages.AssetVersion() + "/" + name)
		if code == http.StatusOK || strings.Contains(text, "package pages") {
			t.Errorf("%s: %d", name, code)
		}
	}
}
