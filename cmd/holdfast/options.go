package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/models"
	"holdfast/movements"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/screening/footage"
	"holdfast/vision"
	"holdfast/vision/device"
)

// analysisOptions are the flags of every command that analyses clips.
type analysisOptions struct {
	out           string
	athlete       string
	tempos        []string
	reps          []string
	facing        string
	view          string
	captureFPS    float64
	model, device string
	everyFrame    bool
	heightCm      float64
	load          *float64 // nil: not given
	parts         []string // of what is measured without a movement: one, or one a clip
	conditions    []string // one, or one a clip, see setting.Setting.List
	markPx        float64
	markCm        float64
	masses        string
	band          []float64
	vertical      *float64 // nil: not given
	smoother      string
	maxMinutes    float64
	movement      string
	movements     string
	json          bool
	csv           bool
	noVideo       bool
	hold          bool
	blurFace      bool
}

const (
	defaultModel    = vision.DefaultModel
	defaultSmoother = "body"
)

func (o *analysisOptions) addFlags(f *pflag.FlagSet) {
	f.StringVar(&o.out, "out", "", "")
	f.StringVar(&o.athlete, "athlete", "", "")
	f.StringSliceVar(&o.tempos, "tempo", nil, "")
	f.StringArrayVar(&o.reps, "rep", nil, "")
	f.StringVar(&o.facing, "facing", "auto", "")
	f.StringVar(&o.view, "view", "auto", "")
	f.Float64Var(&o.captureFPS, "capture-fps", 0, "")
	f.StringVar(&o.model, "model", defaultModel, "")
	f.StringVar(&o.device, "device", device.CPU, "")
	f.BoolVar(&o.everyFrame, "every-frame", false, "")
	f.Float64Var(&o.heightCm, "height-cm", 0, "")
	f.Var(numberFlag{&o.load, "kilograms"}, "load", "")
	f.StringArrayVar(&o.conditions, "condition", nil, "")
	f.StringSliceVar(&o.parts, "part", nil, "")
	f.Float64Var(&o.markPx, "mark-px", 0, "")
	f.Float64Var(&o.markCm, "mark-cm", 0, "")
	f.StringVar(&o.masses, "masses", screening.MassesMean, "")
	f.Float64SliceVar(&o.band, "support-band", []float64{25, 75}, "")
	f.Var(numberFlag{&o.vertical, "degrees"}, "vertical", "")
	f.StringVar(&o.smoother, "smoother", defaultSmoother, "")
	addMaxMinutes(f, &o.maxMinutes)
	f.StringVar(&o.movement, "movement", "", "")
	addMovements(f, &o.movements)
	f.BoolVar(&o.json, "json", false, "")
	f.BoolVar(&o.csv, "csv", false, "")
	f.BoolVar(&o.noVideo, "no-video", false, "")
	f.BoolVar(&o.hold, "hold", false, "")
	f.BoolVar(&o.blurFace, "blur-face", false, "")
}

// addMaxMinutes adds the limit on a clip's length, which the program and its page share.
func addMaxMinutes(f *pflag.FlagSet, minutes *float64) {
	f.Float64Var(minutes, "max-minutes", screening.DefaultMaxMinutes, "")
}

// addMovements adds the folder of a coach's own movements, which the program and its page share.
func addMovements(f *pflag.FlagSet, dir *string) { f.StringVar(dir, "movements", "", "") }

// useMovements makes the movements of folders known beside those that are shipped; an empty name stands for none.
func useMovements(dirs ...string) error {
	known := movements.Known()
	for _, dir := range dirs {
		if dir == "" {
			continue
		}
		if info, err := os.Stat(dir); err != nil || !info.IsDir() {
			return usagef("movements", "given", dir)
		}
		var err error
		if known, err = known.With(os.DirFS(dir)); err != nil {
			return fmt.Errorf("%s: %w", dir, err)
		}
	}
	movements.Use(known)
	return nil
}

// checkMovement refuses a movement that is not known; none given is found.
func checkMovement(key string) error {
	if _, known := movements.Known().Of(key); key != "" && !known {
		return usagef("movement", "all", movements.Known().Keys(), "given", key)
	}
	return nil
}

// checkMaxMinutes refuses a limit that makes no sense; 0 stands for the default.
func checkMaxMinutes(minutes float64) error {
	if minutes != 0 && !(minutes > 0 && minutes <= 24*60) {
		return usagef("max_minutes", "given", minutes)
	}
	return nil
}

// changeAnalysis says whether a flag was given that changes what is measured.
func (o *analysisOptions) changeAnalysis() bool {
	return len(o.tempos) > 0 || len(o.reps) > 0 || o.captureFPS != 0 || o.heightCm != 0 || o.load != nil ||
		len(o.conditions) > 0 || len(o.parts) > 0 ||
		o.markPx != 0 ||
		(o.masses != "" && o.masses != screening.MassesMean) || (len(o.band) == 2 && (o.band[0] != 25 || o.band[1] != 75)) ||
		o.vertical != nil || (o.smoother != "" && o.smoother != defaultSmoother) || (o.facing != "" && o.facing != "auto") ||
		(o.view != "" && o.view != "auto") ||
		(o.model != "" && o.model != defaultModel) || o.movement != "" || o.everyFrame
}

// numberFlag is a flag that holds a number of something, nil until it is given: 0 is a
// number as good as any other.
type numberFlag struct {
	number **float64
	of     string
}

func (f numberFlag) String() string {
	if f.number == nil || *f.number == nil {
		return ""
	}
	return strconv.FormatFloat(**f.number, 'g', -1, 64)
}

func (f numberFlag) Set(s string) error {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return fmt.Errorf("not a number of %s", f.of)
	}
	*f.number = &v
	return nil
}

func (numberFlag) Type() string { return "NUMBER" }

// choices checks the flags and returns one set of choices for each clip.
func (o *analysisOptions) choices(clips int) ([]screening.Options, error) {
	base := screening.Options{
		Athlete: strings.TrimSpace(o.athlete), CaptureFPS: o.captureFPS, HeightCm: o.heightCm, Model: o.model,
		MarkPx: o.markPx, MarkCm: o.markCm, Masses: o.masses, VerticalDeg: o.vertical, MaxMinutes: o.maxMinutes,
		LoadKg: o.load, Movement: o.movement, EveryFrame: o.everyFrame,
	}
	if base.Athlete == "" {
		base.Athlete = screening.Unnamed
	}
	if base.Model == "" {
		base.Model = defaultModel
	}
	if len(o.band) == 2 {
		base.SupportBandPct = [2]float64{o.band[0], o.band[1]}
	}
	if err := o.checkNumbers(); err != nil {
		return nil, err
	}
	if err := useMovements(o.movements); err != nil {
		return nil, err
	}
	if err := checkMovement(o.movement); err != nil {
		return nil, err
	}
	var err error
	if base.Facing, err = oneOf("--facing", o.facing, "auto left right", facings); err != nil {
		return nil, err
	}
	if base.View, err = oneOf("--view", o.view, "auto side front", views); err != nil {
		return nil, err
	}
	if base.Smoother, err = oneOf("--smoother", o.smoother, "body filter", smoothers); err != nil {
		return nil, err
	}
	if _, err = oneOf("--masses", o.masses, "mean female male", masses); err != nil {
		return nil, err
	}
	if err := checkModel(base.Model); err != nil {
		return nil, err
	}
	if len(o.tempos) > 1 && len(o.tempos) != clips {
		return nil, usagef("tempos", "tempos", len(o.tempos), "clips", clips)
	}
	if len(o.reps) > 0 && clips != 1 {
		return nil, usagef("rep_single")
	}
	if base.RepTempo, err = parseReps(o.reps); err != nil {
		return nil, err
	}
	all := slices.Repeat([]screening.Options{base}, clips)
	return all, o.clipByClip(all)
}

// clipByClip adds what is given once for all clips or once for each.
func (o *analysisOptions) clipByClip(all []screening.Options) (err error) {
	if n := len(o.conditions); n > 1 && n != len(all) {
		return usagef("conditions", "conditions", n, "clips", len(all))
	}
	if n := len(o.parts); n > 1 && n != len(all) {
		return usagef("parts", "parts", n, "clips", len(all))
	}
	for i := range all {
		if n := len(o.tempos); n > 0 {
			if all[i].Tempo, err = parseTempo("--tempo", o.tempos[min(i, n-1)]); err != nil {
				return err
			}
		}
		if n := len(o.parts); n > 0 {
			if all[i].Corrections, err = parsePart(o.parts[min(i, n-1)]); err != nil {
				return err
			}
		}
		if n := len(o.conditions); n > 0 {
			if err := condition(o.conditions[min(i, n-1)], &all[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// condition reads how a set was done.
func condition(text string, into *screening.Options) error {
	check := analysisOptions{}
	err := into.Setting.List(text, numberFlag{&check.load, "kilograms"}.Set)
	if check.load != nil {
		into.LoadKg = check.load
	}
	if err != nil {
		return usagef("condition", "given", text, "error", err)
	}
	return check.checkNumbers()
}

// The words that flags take; none given is the first one's.
var (
	facings = map[string]body.Facing{"": body.FacingAuto, "auto": body.FacingAuto, "left": body.FacingLeft,
		"right": body.FacingRight}
	views = map[string]footage.ViewChoice{"": footage.ViewAuto, "auto": footage.ViewAuto,
		"side": footage.ViewSide, "front": footage.ViewFront}
	smoothers = map[string]body.Smoother{
		"": body.SmootherBody, body.SmootherBody.String(): body.SmootherBody,
		body.SmootherFilter.String(): body.SmootherFilter,
	}
	masses = map[string]bool{"": true, screening.MassesMean: true, screening.MassesFemale: true,
		screening.MassesMale: true}
)

// oneOf returns what the word given to a flag stands for, and refuses other words.
func oneOf[T any](flag, word, all string, known map[string]T) (T, error) {
	value, ok := known[word]
	if !ok {
		return value, usagef("one_of", "flag", flag, "all", strings.Split(all, " "), "given", word)
	}
	return value, nil
}

// checkNumbers refuses numbers that make no sense. NaN, which the flags' own parser lets through, is in no range.
func (o *analysisOptions) checkNumbers() error {
	if o.captureFPS != 0 && !(o.captureFPS >= 1 && o.captureFPS <= 10000) {
		return usagef("capture_fps", "given", o.captureFPS)
	}
	if o.heightCm != 0 && !(o.heightCm >= 80 && o.heightCm <= 250) {
		return usagef("height", "given", o.heightCm)
	}
	if o.load != nil && !(*o.load >= 0 && *o.load <= 500) {
		return usagef("load", "given", *o.load)
	}
	if (o.markPx != 0 || o.markCm != 0) && !(o.markPx >= 10 && o.markPx <= 1e5 && o.markCm >= 1 && o.markCm <= 1e4) {
		return usagef("mark")
	}
	if b := o.band; len(b) > 0 && (len(b) != 2 || !(b[0] >= 0 && b[1] > b[0] && b[1] <= 100)) {
		return usagef("support_band")
	}
	if o.vertical != nil && !(math.Abs(*o.vertical) <= 45) {
		return usagef("vertical", "given", *o.vertical)
	}
	return checkMaxMinutes(o.maxMinutes)
}

// checkModel refuses a network that is none of those that find the points of the body.
func checkModel(name string) error {
	names, err := landmarkModels()
	if err != nil {
		return nil // loading it says what is wrong
	}
	for _, part := range models.Parts(name) {
		if !slices.Contains(names, part) {
			return usagef("model", "all", append(names, defaultModel), "given", name)
		}
	}
	return nil
}

// landmarkModels names the networks that find the points of the body.
func landmarkModels() ([]string, error) {
	names, err := models.Names()
	if err != nil {
		return nil, fmt.Errorf("listing the models: %w", err)
	}
	return slices.DeleteFunc(names, func(n string) bool { return n == "detector" || n == "shoe" }), nil
}

func parseTempo(flag, s string) (events.Tempo, error) {
	if t := events.ParseTempo(strings.TrimSpace(s)); t != events.TempoUnknown {
		return t, nil
	}
	return events.TempoUnknown, usagef("tempo", "flag", flag, "given", s)
}

// parsePart reads the part of a clip that counts: "2.1-4.8".
func parsePart(given string) (*screening.Corrections, error) {
	from, to, found := strings.Cut(given, "-")
	fromS, err := strconv.ParseFloat(strings.TrimSpace(from), 64)
	toS, err2 := strconv.ParseFloat(strings.TrimSpace(to), 64)
	if !found || err != nil || err2 != nil || !(fromS >= 0 && toS > fromS) {
		return nil, usagef("part", "given", given)
	}
	return &screening.Corrections{Part: &screening.Part{FromS: fromS, ToS: toS}}, nil
}

// parseReps reads N=TEMPO pairs.
func parseReps(pairs []string) (map[int]events.Tempo, error) {
	if len(pairs) == 0 {
		return nil, nil
	}
	reps := map[int]events.Tempo{}
	for _, pair := range pairs {
		number, tempo, found := strings.Cut(pair, "=")
		n, err := strconv.Atoi(strings.TrimSpace(number))
		if !found || err != nil || n < 1 || n > math.MaxInt32 {
			return nil, usagef("rep", "given", pair)
		}
		if _, twice := reps[n]; twice {
			return nil, usagef("rep_twice", "rep", n)
		}
		if reps[n], err = parseTempo("--rep", tempo); err != nil {
			return nil, err
		}
	}
	return reps, nil
}

// analysed is a clip's analysis on its way to a folder.
type analysed struct {
	analysis *screening.Analysis
	// write puts the results into a folder; nil for an analysis that lies
	// there from an earlier run.
	write func(ctx context.Context, dir string) (report.Files, error)
	files report.Files // what was written
	// earlier is the path an earlier analysis was read from.
	earlier string
}

// useDevice has the networks run on what was asked for, and tells where they do not.
func (a *app) useDevice(name string) error {
	if name == "" || name == device.CPU {
		return nil
	} else if !slices.Contains(device.Names(), name) {
		return usagef("device", "all", device.Names(), "given", name)
	}
	used, err := a.engine.useDevice(name)
	if err == nil && used != name && name != device.Auto {
		terminal.Tell(a.stderr, "warning", "text", terminal.Text("no_device", "device", name))
	}
	return err
}

// analyzeClip tracks and measures one clip. label names it in the progress.
func (a *app) analyzeClip(ctx context.Context, clip, label string, choice screening.Options,
	show report.Options) (analysed, error) {
	progress := terminal.NewProgress(a.stderr, a.stderrTerminal, a.now, label)
	defer progress.End()
	choice.Progress = progress.Report
	analysis, track, err := a.engine.analyze(ctx, clip, choice)
	if err != nil {
		return analysed{}, err
	}
	return analysed{analysis: analysis, write: func(ctx context.Context, dir string) (report.Files, error) {
		progress := terminal.NewProgress(a.stderr, a.stderrTerminal, a.now, label)
		defer progress.End()
		show.Date, show.Progress = a.today(), progress.Report
		return a.engine.writeAnalysis(ctx, dir, analysis, track, show)
	}}, nil
}

// shows returns how results are shown, by the flags.
func (o *analysisOptions) shows() report.Options {
	return report.Options{Video: !o.noVideo, Hold: o.hold, EveryFrame: o.everyFrame, BlurFace: o.blurFace}
}

// labels names clips in messages: by file name, with a count when there are
// several.
func labels(clips []string) []string {
	out := make([]string, len(clips))
	for i, c := range clips {
		out[i] = filepath.Base(c)
		if len(clips) > 1 {
			out[i] = terminal.Text("progress.clip_of", "clip", out[i], "number", i+1, "total", len(clips))
		}
	}
	return out
}
