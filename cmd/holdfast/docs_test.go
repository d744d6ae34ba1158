package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"holdfast/words"
)

// documents are what a user reads, by their place in the repository.
func documents(t *testing.T) map[string]string {
	t.Helper()
	const root = "../.."
	files, err := filepath.Glob(filepath.Join(root, "docs", "*.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"README.md", "SECURITY.md", "DEVELOPERS.md"} {
		files = append(files, filepath.Join(root, name))
	}
	texts := map[string]string{}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		texts[file] = string(text)
	}
	return texts
}

var (
	codeSpan = regexp.MustCompile("`([^`\n]+)`")
	mdLink   = regexp.MustCompile(`\]\(([^)\s]+)\)`)
	heading  = regexp.MustCompile(`(?m)^#+ +(.+)$`)
	script   = regexp.MustCompile(`\bscripts/[a-z][a-z-]*(\.\w+)?`)
	longFlag = regexp.MustCompile(`^--[a-z][a-z-]*`)
	quoted   = regexp.MustCompile(`"[^"]*"`)
	comment  = regexp.MustCompile(`\s+#.*$`)
	notASlug = regexp.MustCompile(`[^\p{L}\p{N} _-]`)
)

// commandLines gives the command lines of holdfast in a text: of its code blocks, and of code within a line.
func commandLines(text string) []string {
	var lines []string
	for line := range strings.Lines(text) {
		if block, ok := strings.CutPrefix(line, "    "); ok {
			lines = append(lines, comment.ReplaceAllString(strings.TrimSpace(block), ""))
		}
		for _, m := range codeSpan.FindAllStringSubmatch(line, -1) {
			lines = append(lines, m[1])
		}
	}
	var found []string
	for _, line := range lines {
		if line = strings.TrimPrefix(line, "bin/"); strings.HasPrefix(line, "holdfast ") {
			found = append(found, line)
		}
	}
	return found
}

// parse says what the program would find wrong with a command line, without running it.
func parse(line string) error {
	line = quoted.ReplaceAllString(line, "NAME") // one word, whatever it holds
	line = strings.NewReplacer("[", "", "]", "", "CLIP...", "CLIP", "COMMAND", "compare").Replace(line)
	root := newRootCommand(&app{})
	cmd, args, err := root.Find(strings.Fields(line)[1:])
	if err != nil {
		return err
	}
	if err := cmd.ParseFlags(args); err != nil {
		return err
	}
	if help, _ := cmd.Flags().GetBool("help"); help {
		return nil
	}
	if cmd == root && cmd.Flags().NArg() > 0 {
		return usagef("no_command", "command", cmd.Flags().Arg(0))
	}
	if len(args) == 0 { // the command is named, not run
		return nil
	}
	return cmd.ValidateArgs(cmd.Flags().Args())
}

func TestDocumentedCommandsExist(t *testing.T) {
	flags := map[string]bool{"--help": true}
	var gather func(*cobra.Command)
	gather = func(cmd *cobra.Command) {
		cmd.LocalFlags().VisitAll(func(f *pflag.Flag) { flags["--"+f.Name] = true })
		for _, sub := range cmd.Commands() {
			gather(sub)
		}
	}
	root := newRootCommand(&app{})
	gather(root)
	for file, text := range documents(t) {
		for _, line := range commandLines(text) {
			if err := parse(line); err != nil {
				t.Errorf("%s: %s: %v", file, line, err)
			}
		}
		if filepath.Base(file) == "DEVELOPERS.md" { // names flags of scripts too
			continue
		}
		for _, m := range codeSpan.FindAllStringSubmatch(text, -1) {
			if flag := longFlag.FindString(m[1]); flag != "" && !flags[flag] {
				t.Errorf("%s: no command has the flag %s", file, flag)
			}
		}
	}
	commands := documents(t)["../../docs/commands.md"]
	for _, cmd := range root.Commands() {
		if !cmd.Hidden && cmd.Name() != "help" && !strings.Contains(commands, "`holdfast "+cmd.Name()) {
			t.Errorf("docs/commands.md does not name the command %s", cmd.Name())
		}
	}
	for _, line := range []string{
		"holdfast measure CLIP", "holdfast compare A B C D", "holdfast analyze CLIP --blur", "holdfast archive mend",
	} {
		if parse(line) == nil {
			t.Errorf("%q passes for a command line", line)
		}
	}
}

// The examples of how to measure clips are taken as they stand: flags that do not go together are found here.
func TestDocumentedExamplesAreTaken(t *testing.T) {
	texts := documents(t)
	a := newTestApp(t)
	examples := 0
	for file, text := range texts {
		for _, line := range commandLines(text) {
			fields := strings.Fields(quoted.ReplaceAllString(line, "NAME"))[1:]
			if len(fields) == 0 || fields[0] != "analyze" && fields[0] != "compare" || !strings.Contains(line, ".mp4") {
				continue
			}
			examples++
			a.err.Reset()
			if code := run(t.Context(), fields, a.app); code == exitUsage {
				t.Errorf("%s: %s: %s", file, line, a.err)
			}
		}
	}
	if examples < 5 {
		t.Errorf("there are %d examples", examples)
	}
}

func TestDocumentedExitCodes(t *testing.T) {
	commands := documents(t)["../../docs/commands.md"]
	row := regexp.MustCompile(`(?m)^\| (\d+) \| (.+) \|$`)
	rows := row.FindAllStringSubmatch(commands, -1)
	help := regexp.MustCompile(`(?m)^  (\d+) +(.+)$`).FindAllStringSubmatch(words.Say("help.exit_codes", nil), -1)
	if len(rows) != len(help) {
		t.Fatalf("docs/commands.md has %d exit codes, the help %d", len(rows), len(help))
	}
	for i, m := range help {
		if rows[i][1] != m[1] || !strings.HasPrefix(m[2], rows[i][2]) {
			t.Errorf("docs/commands.md says %q, the help %q", rows[i][0], m[0])
		}
	}
}

// slug is the anchor that a heading gets where Markdown is shown.
func slug(heading string) string {
	return strings.ReplaceAll(notASlug.ReplaceAllString(strings.ToLower(heading), ""), " ", "-")
}

func TestDocumentsPointToWhatIsThere(t *testing.T) {
	texts := documents(t)
	anchors := map[string]map[string]bool{}
	for file, text := range texts {
		anchors[file] = map[string]bool{}
		for _, m := range heading.FindAllStringSubmatch(text, -1) {
			anchors[file][slug(m[1])] = true
		}
	}
	for file, text := range texts {
		for _, m := range mdLink.FindAllStringSubmatch(text, -1) {
			if strings.Contains(m[1], "://") {
				continue
			}
			path, anchor, _ := strings.Cut(m[1], "#")
			target := file
			if path != "" {
				target = filepath.Join(filepath.Dir(file), path)
			}
			if _, err := os.Stat(target); err != nil {
				t.Errorf("%s: the link %s leads nowhere", file, m[1])
			}
			if anchor != "" && anchors[target] != nil && !anchors[target][anchor] {
				t.Errorf("%s: there is no heading for %s", file, m[1])
			}
		}
		// What a script writes has an ending, and may be missing.
		for _, m := range script.FindAllStringSubmatch(text, -1) {
			if _, err := os.Stat(filepath.Join("../..", m[0])); err != nil && m[1] == "" {
				t.Errorf("%s: there is no %s", file, m[0])
			}
		}
	}
	readme := texts["../../README.md"]
	if lines := strings.Count(readme, "\n"); lines > 70 {
		t.Errorf("README.md has %d lines; it is to fit on a screen of 70", lines)
	}
	for file := range texts {
		if name := filepath.Base(file); filepath.Base(filepath.Dir(file)) == "docs" &&
			!strings.Contains(readme, "(docs/"+name+")") {
			t.Errorf("README.md does not lead to docs/%s", name)
		}
	}
}
