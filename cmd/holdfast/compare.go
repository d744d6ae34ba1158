package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/report"
	"holdfast/report/measures"
	"holdfast/report/resultdir"
	"holdfast/screening"
	"holdfast/screening/footage"
	"holdfast/screening/sets"
	"holdfast/vision/media"
	"holdfast/words"
)

type compareOptions struct {
	analysisOptions
	smallestChangeDeg float64
	retest            string
	fronts            []string
}

func newCompareCommand(a *app) *cobra.Command {
	var opts compareOptions
	cmd := &cobra.Command{
		Use: "compare BASELINE [CHALLENGE [CHALLENGE2]]",
		Example: `  holdfast compare slow.mp4 fast.mp4 jump.mp4 --athlete "Sam Example"
  holdfast compare holdfast-results/Sam\ Example/2025-05-02/slow fast.mp4
  holdfast compare slow.mp4 fast.mp4 --retest slow-again.mp4
  holdfast compare slow.mp4 fast.mp4 --front slow-front.mp4 --front fast-front.mp4
  holdfast compare mixed.mp4 --rep 1=slow --rep 2=fast`,
		Args: arguments(1, 3, "compared"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.runCompare(cmd.Context(), opts, args)
		},
	}
	opts.addFlags(cmd.Flags())
	cmd.Flags().Float64Var(&opts.smallestChangeDeg, "smallest-change", 5, "")
	cmd.Flags().StringVar(&opts.retest, "retest", "", "")
	cmd.Flags().StringArrayVar(&opts.fronts, "front", nil, "")
	return cmd
}

// runCompare analyses what is no analysis yet, compares, and writes: nothing is
// written before everything is measured.
func (a *app) runCompare(ctx context.Context, opts compareOptions, args []string) error {
	if !(opts.smallestChangeDeg > 0 && opts.smallestChangeDeg <= 90) {
		return usagef("smallest_change", "given", opts.smallestChangeDeg)
	}
	choices, err := opts.choices(len(args))
	if err != nil {
		return err
	}
	sources := args
	if opts.retest != "" { // after the clips that are compared, measured as the first of them
		again := choices[0]
		again.RepTempo = nil
		sources, choices = append(slices.Clone(args), opts.retest), append(choices, again)
	}
	if sources, choices, err = opts.withFronts(args, sources, choices); err != nil {
		return err
	}
	folders := uniqueNames(sources)
	if err := checkSources(sources, folders, opts.out); err != nil { // told before minutes of work
		return err
	}
	goal := opts.out
	if goal == "" {
		goal = a.defaultFolder(choices[0].Athlete, "compare")
	}
	if err := cmp.Or(checkFolder(goal), a.useDevice(opts.device)); err != nil {
		return err
	}
	items := make([]analysed, len(sources))
	analyses := make([]*screening.Analysis, len(sources))
	names := labels(sources)
	for i, arg := range sources {
		if isEarlier(arg) {
			items[i], err = a.loadEarlier(arg)
		} else {
			items[i], err = a.analyzeClip(ctx, arg, names[i], choices[i], opts.shows())
		}
		if err != nil {
			return err
		}
		analyses[i] = items[i].analysis
	}
	a.warnOfEarlier(opts, sources, items)
	athlete := athleteOf(opts.athlete, analyses)
	how := screening.CompareOptions{SmallestChangeDeg: opts.smallestChangeDeg}
	how.Sides, how.Axis = screening.SidesBySetting(analyses[:len(args)])
	if opts.retest != "" {
		how.Retest = analyses[len(args)]
	}
	comparison, err := a.engine.compare(analyses[:len(args)], how)
	if err == nil {
		err = sets.Add(comparison, analyses[:len(args)], analyses[len(analyses)-len(opts.fronts):], how)
	}
	if err != nil {
		return err
	}
	comparison.Told(athlete, comparison.Axis)
	for _, item := range items {
		if item.write != nil { // an athlete named by the earlier analysis beside it
			item.analysis.Athlete = athlete
		}
	}
	folder := opts.out
	if folder == "" {
		folder = a.defaultFolder(athlete, compareName(comparison))
	}
	files, err := a.writeCompared(ctx, folder, opts, folders, items, comparison)
	if err != nil {
		return err
	}
	if opts.json {
		return a.printJSON(files.Comparison)
	}
	if opts.csv {
		return a.printTable(func(w io.Writer) error { return measures.Comparison(w, comparison) })
	}
	a.printCompared(folder, items, comparison, files)
	return nil
}

// withFronts adds the clips of the same sets from the front to what is measured, after all others.
func (o *compareOptions) withFronts(args, sources []string, choices []screening.Options) ([]string,
	[]screening.Options, error) {
	if len(o.fronts) == 0 {
		return sources, choices, nil
	}
	if len(o.fronts) != len(args) {
		return nil, nil, usagef("fronts", "clips", len(args), "fronts", len(o.fronts))
	}
	for i := range o.fronts {
		front := choices[i]
		front.RepTempo, front.View = nil, footage.ViewFront
		choices = append(choices, front)
	}
	return append(slices.Clone(sources), o.fronts...), choices, nil
}

// checkSources refuses clips that are none, and folders below out, for their analyses, that hold something else.
func checkSources(sources, folders []string, out string) error {
	for i, arg := range sources {
		if isEarlier(arg) {
			continue
		}
		if err := media.CheckFile(arg); err != nil {
			return err
		}
		if out != "" && isResult(out) {
			if err := checkFolder(filepath.Join(out, folders[i])); err != nil {
				return err
			}
		}
	}
	return nil
}

// printCompared prints a comparison for reading, and where its files and those of its clips lie.
func (a *app) printCompared(folder string, items []analysed, comparison *screening.Comparison, files report.Files) {
	for _, item := range items {
		terminal.Warnings(a.stderr, "", item.files.Warnings)
	}
	terminal.Warnings(a.stderr, "", comparison.Warnings) // those of the clips are among them
	terminal.Warnings(a.stderr, "", files.Warnings)
	terminal.Comparison(a.stdout, a.color, comparison)
	a.printFiles(folder, files)
	for i, item := range items {
		if ref := clipRef(comparison, i); item.write != nil && ref != nil {
			terminal.Say(a.stdout, "\n%s\n", item.analysis.Clip.Name)
			a.printFiles(filepath.Join(folder, filepath.Dir(filepath.FromSlash(ref.Analysis))), item.files)
		}
	}
}

// clipRef returns where a comparison names its i-th clip; the retest comes after
// the clips compared, and those from the front after it. It is nil when the comparison does not name it.
func clipRef(c *screening.Comparison, i int) *screening.ClipRef {
	if i < len(c.Clips) {
		return &c.Clips[i]
	}
	if i -= len(c.Clips); c.Retest != nil {
		if i == 0 {
			return c.Retest
		}
		i--
	}
	if c.Fronts != nil && i < len(c.Fronts.Clips) {
		return &c.Fronts.Clips[i]
	}
	return nil
}

// writeCompared writes the analyses of clips and the comparison.
//
// With --out the analyses lie inside the comparison's folder. They are made in a
// folder beside it and moved in at the end, so that an interrupt leaves either
// the old results or the new ones.
func (a *app) writeCompared(ctx context.Context, folder string, opts compareOptions, names []string, items []analysed,
	c *screening.Comparison) (report.Files, error) {
	beside := filepath.Dir(filepath.Clean(folder))
	workshop := beside
	if opts.out != "" {
		if err := os.MkdirAll(beside, 0o755); err != nil {
			return report.Files{}, fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
		}
		var err error
		if workshop, err = os.MkdirTemp(beside, workshopPattern); err != nil {
			return report.Files{}, fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
		}
		defer os.RemoveAll(workshop)
	}
	for i := range items {
		item := &items[i]
		place := item.earlier
		if item.write != nil {
			dir := filepath.Join(workshop, names[i])
			var err error
			if item.files, err = item.write(ctx, dir); err != nil {
				return report.Files{}, err
			}
			place = filepath.Join(dir, "analysis.json")
			if opts.out != "" {
				place = filepath.Join(folder, names[i], "analysis.json")
			}
		}
		if ref := clipRef(c, i); ref != nil {
			ref.Analysis = relativeTo(folder, place)
		}
	}
	progress := terminal.NewProgress(a.stderr, a.stderrTerminal, a.now, terminal.Text("progress.comparison"))
	show := opts.shows()
	show.Date, show.Progress = a.today(), progress.Report
	files, err := a.engine.writeComparison(ctx, folder, c, show)
	progress.End()
	if err != nil || opts.out == "" {
		return files, err
	}
	for i, item := range items {
		if item.write == nil {
			continue
		}
		if err := moveIn(filepath.Join(workshop, names[i]), filepath.Join(folder, names[i]),
			filepath.Join(workshop, "old-"+names[i])); err != nil {
			return report.Files{}, fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
		}
	}
	return files, nil
}

// isEarlier says whether an argument is an earlier analysis rather than a clip.
func isEarlier(path string) bool {
	if strings.EqualFold(filepath.Ext(path), ".json") {
		return true
	}
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

func (a *app) loadEarlier(path string) (analysed, error) {
	analysis, err := a.engine.load(path)
	if err != nil {
		if code := exitCode(err); code == exitUnexpected {
			err = &media.ClipError{Path: path, Doing: words.Say("error.doing_reading_earlier", nil),
				Err: fmt.Errorf("%w: %w", media.ErrUnreadable, err)}
		}
		return analysed{}, err
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, "analysis.json")
	}
	return analysed{analysis: analysis, earlier: path}, nil
}

// warnOfEarlier tells of flags that an earlier analysis is not touched by, and of
// analyses of different athletes.
func (a *app) warnOfEarlier(opts compareOptions, args []string, items []analysed) {
	warn := func(key string, with ...any) { terminal.Tell(a.stderr, "warning", "text", terminal.Text(key, with...)) }
	named := map[string]string{}
	for i, item := range items {
		if item.earlier == "" {
			continue
		}
		if opts.changeAnalysis() {
			warn("earlier_unchanged", "analysis", args[i])
		}
		if name := item.analysis.Athlete; name != "" && name != screening.Unnamed {
			named[name] = args[i]
		}
	}
	if len(named) > 1 {
		warn("different_athletes", "athletes", slices.Sorted(maps.Keys(named)))
	}
}

// athleteOf returns the name given on the command line, or the one the analyses
// carry.
func athleteOf(given string, analyses []*screening.Analysis) string {
	if given = strings.TrimSpace(given); given != "" {
		return given
	}
	for _, an := range analyses {
		if an.Athlete != "" && an.Athlete != screening.Unnamed {
			return an.Athlete
		}
	}
	return screening.Unnamed
}

// compareName names the folder of a comparison after its conditions, the easiest
// first: compare_slow_fast.
func compareName(c *screening.Comparison) string {
	name := "compare"
	for _, of := range c.Conditions() {
		name += "_" + of.Key
	}
	return name
}

// relativeTo writes a path as seen from a folder, so that results can be moved
// together; with forward slashes, as it goes into JSON.
func relativeTo(folder, path string) string {
	from, err1 := filepath.Abs(folder)
	to, err2 := filepath.Abs(path)
	if err1 == nil && err2 == nil {
		if rel, err := filepath.Rel(from, to); err == nil {
			return filepath.ToSlash(rel)
		}
	}
	return filepath.ToSlash(path)
}
