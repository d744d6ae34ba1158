package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/printable"
	"holdfast/report"
	"holdfast/report/resultdir"
	"holdfast/screening"
)

// resultsFolder is where results go unless --out says otherwise:
// holdfast-results/ATHLETE/DATE/NAME.
const resultsFolder = "holdfast-results"

func (a *app) defaultFolder(athlete, name string) string {
	return filepath.Join(resultsFolder, safeName(athlete, screening.Unnamed), a.today(), name)
}

// clipName returns the name of the folder for a clip's results: the file's name
// without its extension.
func clipName(path string) string {
	base := filepath.Base(path)
	return safeName(strings.TrimSuffix(base, filepath.Ext(base)), "clip")
}

// safeName turns a name into one that can be a folder on Linux, macOS and
// Windows. Spaces and letters of every script stay; separators and other
// characters that have a meaning in paths become "_", hidden ones are left out.
func safeName(name, fallback string) string {
	name = strings.Map(func(r rune) rune {
		switch {
		case strings.ContainsRune(`/\:*?"<>|`, r):
			return '_'
		case printable.Hidden(r):
			return -1
		}
		return r
	}, name)
	const mostBytes = 120 // file systems allow 255 for a name; leave room for temporary endings
	for len(name) > mostBytes {
		_, size := utf8.DecodeLastRuneInString(name)
		name = name[:len(name)-size]
	}
	name = strings.TrimFunc(name, func(r rune) bool { return r == '.' || unicode.IsSpace(r) })
	if name == "" {
		return fallback
	}
	stem, _, _ := strings.Cut(strings.ToUpper(name), ".")
	switch stem { // names of devices on Windows
	case "CON", "PRN", "AUX", "NUL", "COM1", "COM2", "COM3", "COM4", "LPT1", "LPT2", "LPT3":
		name = name[:len(stem)] + "_" + name[len(stem):] // what follows a dot does not help
	}
	return name
}

// uniqueNames gives clips of the same name different folders.
func uniqueNames(clips []string) []string {
	taken := map[string]bool{}
	names := make([]string, len(clips))
	for i, clip := range clips {
		name := clipName(clip)
		unique := name
		// Two names that differ in case only are one folder on macOS and Windows.
		for n := 2; taken[strings.ToLower(unique)]; n++ {
			unique = fmt.Sprintf("%s-%d", name, n)
		}
		taken[strings.ToLower(unique)] = true
		names[i] = unique
	}
	return names
}

// checkFolder finds out before minutes of work whether results can be put into
// a folder. It leaves nothing behind.
func checkFolder(dir string) error {
	info, err := os.Stat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
	case !info.IsDir():
		return fmt.Errorf("%s: %w: it is a file, not a folder; choose another --out", dir, resultdir.ErrCannotWrite)
	default:
		entries, err := os.ReadDir(dir)
		if err != nil {
			return fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
		}
		if len(entries) > 0 && !isResult(dir) {
			return fmt.Errorf("%s: %w; choose another --out", dir, resultdir.ErrNotOurs)
		}
	}
	parent, err := nearestFolder(filepath.Dir(filepath.Clean(dir)))
	if err != nil {
		return fmt.Errorf("%w: %w; choose another --out", resultdir.ErrCannotWrite, err)
	}
	probe, err := os.MkdirTemp(parent, workshopPattern)
	if err != nil {
		return fmt.Errorf("%w: %w; choose another --out", resultdir.ErrCannotWrite, err)
	}
	if err := os.Remove(probe); err != nil {
		return fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
	}
	return nil
}

// nearestFolder returns the lowest folder on a path that exists.
func nearestFolder(path string) (string, error) {
	for {
		info, err := os.Stat(path)
		switch {
		case err == nil && info.IsDir():
			return path, nil
		case err == nil:
			return "", fmt.Errorf("%s is a file, not a folder", path)
		case !errors.Is(err, fs.ErrNotExist) || filepath.Dir(path) == path:
			return "", err
		}
		path = filepath.Dir(path)
	}
}

// workshopPattern names the folders in which results wait for their place.
const workshopPattern = ".holdfast-*.part"

func isResult(dir string) bool {
	for _, name := range []string{"analysis.json", "comparison.json"} {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			return true
		}
	}
	return false
}

// analysisFiles are the names of what the analysis of a clip consists of.
var analysisFiles = []string{"analysis.json", "series.csv", "keypoints.json", "annotated.mp4", "frames"}

// moveIn puts a finished result in its place. What an earlier result there held
// goes to the folder aside, but for files that are not Holdfast's: they stay.
func moveIn(made, place, aside string) error {
	err := os.Rename(place, aside)
	if errors.Is(err, fs.ErrNotExist) {
		return os.Rename(made, place)
	}
	if err != nil {
		return err
	}
	if err := os.Rename(made, place); err != nil {
		return errors.Join(err, os.Rename(aside, place))
	}
	entries, err := os.ReadDir(aside)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !slices.Contains(analysisFiles, e.Name()) {
			if err := os.Rename(filepath.Join(aside, e.Name()), filepath.Join(place, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

// printFiles tells where the results are, what a coach looks at first. The paths
// are shown below the folder as the user named it.
func (a *app) printFiles(folder string, files report.Files) {
	t := terminal.NewTable(a.stdout)
	show := func(title string, paths ...string) {
		if len(paths) == 0 || paths[0] == "" {
			return
		}
		line := filepath.Join(folder, filepath.Base(paths[0]))
		if len(paths) > 1 {
			line = terminal.Text("file_and_pairs", "file", line)
		}
		terminal.Row(t, title, line)
	}
	show(terminal.Text("file_report"), files.Report)
	if len(files.Pages) > 1 {
		show(terminal.Text("file_athlete"), files.Pages[1])
	}
	for i, path := range files.PDFs {
		show([]string{terminal.Text("file_pdf"), terminal.Text("file_athlete_pdf")}[min(i, 1)], path)
	}
	show(terminal.Text("file_sidebyside"), files.SideBySide...)
	show(terminal.Text("file_overlay"), files.Overlays...)
	show(terminal.Text("file_curves"), files.Curves)
	show(terminal.Text("file_video"), files.Video)
	if n := len(files.Frames); n > 0 {
		terminal.Row(t, terminal.Text("file_frames"), terminal.Text("file_pictures", "n", n, "folder",
			filepath.Join(folder, "frames")))
	}
	show(terminal.Text("file_series"), files.Series)
	show(terminal.Text("file_keypoints"), files.Keypoints)
	show(terminal.Text("file_numbers"), files.Analysis)
	show(terminal.Text("file_numbers"), files.Comparison)
	_ = t.Flush() // for reading; what cannot be printed is in the folder all the same
}
