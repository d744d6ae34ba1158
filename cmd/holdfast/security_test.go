package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Every promise in SECURITY.md names its tests, by folder, and they are there.
func TestSecurityPromisesHaveTests(t *testing.T) {
	const root = "../.."
	text, err := os.ReadFile(filepath.Join(root, "SECURITY.md"))
	if err != nil {
		t.Fatal(err)
	}
	name := regexp.MustCompile("`([a-z/]+)\\.((?:Test|Fuzz)\\w+)`")
	sources := map[string]string{} // by folder
	there := func(folder, test string) bool {
		if _, read := sources[folder]; !read {
			files, err := filepath.Glob(filepath.Join(root, folder, "*_test.go"))
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range files {
				b, err := os.ReadFile(f)
				if err != nil {
					t.Fatal(err)
				}
				sources[folder] += string(b)
			}
		}
		return strings.Contains(sources[folder], "\nfunc "+test+"(")
	}
	promises := 0
	for line := range strings.Lines(string(text)) {
		found := name.FindAllStringSubmatch(line, -1)
		for _, m := range found {
			if !there(m[1], m[2]) {
				t.Errorf("there is no test %s in %s", m[2], m[1])
			}
		}
		if strings.HasPrefix(line, "| ") && !strings.HasPrefix(line, "| promise") {
			promises++
			cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
			if len(cells) != 2 || !name.MatchString(cells[1]) {
				t.Errorf("a promise without a test: %s", line)
			}
		}
		// A test's name in any other form would not be looked for.
		if strings.Count(line, "`")/2 < len(found) ||
			len(regexp.MustCompile(`\b(?:Test|Fuzz)[A-Z]\w+`).FindAllString(line, -1)) != len(found) {
			t.Errorf("write tests as `folder.TestName`: %s", line)
		}
	}
	if promises < 15 {
		t.Errorf("%d promises", promises)
	}
}
