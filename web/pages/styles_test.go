package pages

import (
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"
)

// Colours are written once, in css/tokens.css; other styles and the scripts name them, and no rule is for one id.
func TestStylesUseTokens(t *testing.T) {
	sources := map[string]string{}
	for _, folder := range []string{"assets/css", "assets/js"} {
		entries, err := fs.ReadDir(assetFiles, folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			text, err := fs.ReadFile(assetFiles, path.Join(folder, e.Name()))
			if err != nil {
				t.Fatal(err)
			}
			sources[path.Join(folder, e.Name())] = string(text)
		}
	}
	const tokens = "assets/css/tokens.css"
	colour := regexp.MustCompile(`#(?:[0-9a-f]{8}|[0-9a-f]{6}|[0-9a-f]{3})\b|\brgba?\(\d`)
	seen := map[string]bool{}
	for _, c := range colour.FindAllString(sources[tokens], -1) {
		if strings.HasPrefix(c, "#") && seen[c] {
			t.Errorf("%s: %s is written twice", tokens, c)
		}
		seen[c] = true
	}
	byID := regexp.MustCompile(`(?m)^[^:;{}/]*#[a-z][\w-]*[^;]*[,{]$`)
	use := regexp.MustCompile(`var\(--([\w-]+)\)|token\("([\w-]+)"\)`)
	used := map[string]bool{"slow": true, "fast": true, "jump": true} // by the tempo's name
	for name, text := range sources {
		for _, m := range use.FindAllStringSubmatch(text, -1) {
			used[m[1]+m[2]] = true
		}
		if name == tokens {
			continue
		}
		for _, c := range colour.FindAllString(text, -1) {
			t.Errorf("%s: the colour %s is not a token", name, c)
		}
		if path.Ext(name) == ".css" {
			for _, rule := range byID.FindAllString(text, -1) {
				t.Errorf("%s: a rule by id: %s", name, rule)
			}
		}
	}
	given := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^\s+--([\w-]+):`).FindAllStringSubmatch(sources[tokens], -1) {
		given[m[1]] = true
		if !used[m[1]] {
			t.Errorf("%s: nothing uses --%s", tokens, m[1])
		}
	}
	for name := range used {
		if !given[name] {
			t.Errorf("there is no token --%s", name)
		}
	}
	if len(given) < 50 {
		t.Errorf("%d tokens", len(given))
	}
}
