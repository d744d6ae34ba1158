package pages

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"
)

// Pages call positions and angles what the reports call them.
func TestPagesCarryTheWords(t *testing.T) {
	module, kind, found := Asset(catalogueName)
	if !found || kind != assetKinds[".js"] {
		t.Fatalf("the catalogue: %v %q", found, kind)
	}
	var said struct {
		Positions map[string]positionSaid `json:"positions"`
		Angles    map[string]string       `json:"angles"`
	}
	text := strings.TrimSuffix(strings.TrimPrefix(string(module), "export const catalogue = "), ";\n")
	if err := json.Unmarshal([]byte(text), &said); err != nil {
		t.Fatal(err)
	}
	heel, ankle := said.Positions["heel_rise"], said.Positions["ankle"]
	if heel.Name != "Heel rise" || heel.Gained != "more" || heel.Look.Gained != "lost" {
		t.Errorf("the heel: %v", heel)
	}
	if ankle.Name != "Ankle" || ankle.Lost != "lost" || said.Angles["ankle_dorsiflexion"] != "Ankle dorsiflexion" {
		t.Errorf("the ankle: %v, %q", ankle, said.Angles["ankle_dorsiflexion"])
	}
}

var imported = regexp.MustCompile(`(?m)^(?:import|export)[^;]*?from "([^"]+)"|^import "([^"]+)"`)

func TestAssets(t *testing.T) {
	n := 0
	err := fs.WalkDir(assetFiles, "assets", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Ext(name) == ".md" {
			return err
		}
		n++
		text, kind, found := Asset(strings.TrimPrefix(name, "assets/"))
		if !found || kind != assetKinds[path.Ext(name)] {
			t.Errorf("%s: %v %q", name, found, kind)
		}
		if path.Ext(name) != ".js" {
			return nil
		}
		for _, m := range imported.FindAllSubmatch(text, -1) {
			to := path.Join(path.Dir(name), cmp.Or(string(m[1]), string(m[2])))
			if _, err := fs.Stat(assetFiles, to); err != nil && to != "assets/"+catalogueName {
				t.Errorf("%s imports %s, which is not there", name, to)
			}
		}
		if strings.HasPrefix(name, "assets/vendor/") {
			return nil
		}
		const drawing = "http://www.w3.org/2000/svg"
		for _, bad := range []string{
			"innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function", "http://", "https://",
		} {
			if bytes.Contains(text, []byte(bad)) && !(bad == "http://" && bytes.Contains(text, []byte(drawing))) {
				t.Errorf("%s: has %s", name, bad)
			}
		}
		return nil
	})
	if err != nil || n < 15 {
		t.Errorf("%d assets, %v", n, err)
	}
	if _, _, found := Asset("vendor/README.md"); found {
		t.Error("a file of another kind is an asset")
	}
}

// TestVendoredLibraries compares the libraries of others with the sums beside them.
func TestVendoredLibraries(t *testing.T) {
	readme, err := assetFiles.ReadFile("assets/vendor/README.md")
	if err != nil {
		t.Fatal(err)
	}
	sums := regexp.MustCompile(`(?m)^    ([0-9a-f]{64})  (\S+)$`).FindAllSubmatch(readme, -1)
	if len(sums) < 3 {
		t.Errorf("%d sums in the table", len(sums))
	}
	for _, m := range sums {
		text, err := assetFiles.ReadFile("assets/vendor/" + string(m[2]))
		if err != nil {
			t.Error(err)
			continue
		}
		sum := sha256.Sum256(text)
		if got := hex.EncodeToString(sum[:]); got != string(m[1]) {
			t.Errorf("%s was changed: %s", m[2], got)
		}
	}
}
