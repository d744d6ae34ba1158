package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/models"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/screening/setting"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// testApp is an app with an engine that works without networks: a clip whose
// name holds a word like "nobody" fails as that word says.
type testApp struct {
	*app
	out, err *bytes.Buffer
	calls    []screening.Options
	// beforeCompare runs before a comparison is written.
	beforeCompare func()
}

func newTestApp(t *testing.T) *testApp {
	t.Helper()
	t.Chdir(t.TempDir())
	ta := &testApp{out: &bytes.Buffer{}, err: &bytes.Buffer{}}
	clock := time.Date(2025, 5, 2, 10, 0, 0, 0, time.UTC)
	ta.app = &app{
		stdout: ta.out, stderr: ta.err,
		now: func() time.Time { clock = clock.Add(time.Second); return clock },
		engine: engine{
			analyze:   ta.analyze,
			useDevice: func(string) (string, error) { return "cpu", nil }, // has nothing else
			load: func(path string) (*screening.Analysis, error) {
				if info, err := os.Stat(path); err == nil && info.IsDir() {
					path = filepath.Join(path, "analysis.json")
				}
				data, err := os.ReadFile(path)
				if err != nil {
					return nil, err
				}
				var a screening.Analysis
				return &a, json.Unmarshal(data, &a)
			},
			compare: ta.compare,
			writeAnalysis: func(ctx context.Context, dir string, a *screening.Analysis, _ *pose.Track,
				_ report.Options) (report.Files, error) {
				return report.Files{Dir: dir, Analysis: filepath.Join(dir, "analysis.json")},
					writeSample(ctx, dir, "analysis.json", a)
			},
			writeComparison: func(ctx context.Context, dir string, c *screening.Comparison, _ report.Options) (report.Files,
				error) {
				if ta.beforeCompare != nil {
					ta.beforeCompare()
				}
				return report.Files{Dir: dir, Comparison: filepath.Join(dir, "comparison.json")},
					writeSample(ctx, dir, "comparison.json", c)
			},
		},
	}
	for _, name := range []string{"slow.mp4", "again.mp4", "fast.mp4", "jump.mp4", "nobody.mp4", "noreps.mp4",
		"broken.mp4", "crash.mp4", "uninstalled.mp4", "front_slow.mp4", "front_fast.mp4",
		"no_rep_plate.mp4", "no_rep_sit.mp4"} {
		if err := os.WriteFile(name, []byte("clip"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return ta
}

func writeSample(ctx context.Context, dir, name string, v any) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, name), data, 0o644)
}

func (ta *testApp) analyze(ctx context.Context, path string,
	opt screening.Options) (*screening.Analysis, *pose.Track, error) {
	if err := ctx.Err(); err != nil {
		return nil, nil, err
	}
	ta.calls = append(ta.calls, opt)
	name := strings.TrimSuffix(filepath.Base(path), ".mp4")
	fail := map[string]error{
		"nobody": vision.ErrNoPerson, "noreps": screening.ErrNoReps, "broken": media.ErrUnreadable,
		"crash": errors.New("an index\nwent astray"), "uninstalled": models.ErrNoRuntime,
	}[name]
	if fail != nil {
		return nil, nil, &media.ClipError{Path: path, Err: fail}
	}
	opt.Progress.Report("tracking", 50, 100)
	return sampleAnalysis(name, opt.Athlete), &pose.Track{}, nil
}

func known(value, sd float64) stats.Estimate {
	return stats.Estimate{Value: value, SD: sd}
}

func sampleAnalysis(tempo, athlete string) *screening.Analysis {
	measured := func(rom, bottom float64) joints.AngleMeasure {
		return joints.AngleMeasure{ROMDeg: rom, SDDeg: 1.6, AtBottomDeg: bottom, ZeroKnown: true,
			ROMInterval95Deg: [2]float64{rom - 5, rom + 5}}
	}
	nan := math.NaN()
	none := joints.AngleMeasure{ROMDeg: nan, AtBottomDeg: nan}
	return &screening.Analysis{
		Schema: screening.AnalysisSchema, Athlete: athlete, Facing: "right", NearSide: "right",
		Clip:      screening.ClipInfo{Name: tempo + ".mp4", Frames: 578, DurationS: 9.63},
		MassModel: "table", SupportBandPct: [2]float64{25, 75}, TimeToFeetS: nan,
		Reps: []kinematics.Rep{
			{RepTimes: events.RepTimes{Number: 1, Tempo: events.Tempo(tempo), StartS: 0.7, BottomS: 1.05},
				Foot: &measure.Foot{Heel: measure.FootRise{Up: true, MaxPctFoot: known(11, 1.5), MaxCm: known(3.1, 0.4)}},
				Support: []measure.SupportSpan{{Phase: events.WholeRep, MeanPct: known(61, 5),
					OutsideS: 0.4}}, Measures: joints.Measures{Angles: body.ByAngle[joints.AngleMeasure]{
					body.KneeFlexion: measured(104.4, 104.6), body.HipFlexion: measured(129.9,
						128.9), body.AnkleDorsiflexion: measured(23.8, nan)}},
				Quality: joints.Quality{Grade: "fair", Advice: notice.New("film_at_60_or_120", nil)}},
			{RepTimes: events.RepTimes{Number: 2, Tempo: events.Tempo(tempo), Partial: true,
				PartialWhy: notice.New("ends_inside", nil), StartS: 8.2, BottomS: nan},
				Measures: joints.Measures{Angles: body.ByAngle[joints.AngleMeasure]{body.KneeFlexion: none, body.HipFlexion: none,
					body.AnkleDorsiflexion: none}}},
		},
		Warnings: []screening.Warning{{Code: "low_rate", Message: "30 frames a second are few for a jump"}},
	}
}

func (ta *testApp) compare(analyses []*screening.Analysis,
	opt screening.CompareOptions) (*screening.Comparison, error) {
	c := &screening.Comparison{Schema: screening.ComparisonSchema, SmallestChangeDeg: opt.SmallestChangeDeg,
		Analyses: analyses}
	for _, a := range analyses {
		c.Clips = append(c.Clips, screening.ClipRef{Name: a.Clip.Name})
		if a.Clip.Name == "other.mp4" {
			return nil, screening.ErrDifferentMovement
		}
	}
	if r := opt.Retest; r != nil {
		c.Retest = &screening.ClipRef{Name: r.Clip.Name}
		c.MDC95Deg = &body.ByJoint[float64]{body.KneeJoint: 4.2, body.HipJoint: 6, body.AnkleJoint: 2.5}
	}
	fast := "fast"
	c.FirstLost[body.AnkleJoint] = &fast
	change := func(base, challenge, lost, lo, hi float64, verdict stats.Verdict) kinematics.JointChange {
		return kinematics.JointChange{BaselineROMDeg: base, ChallengeROMDeg: challenge, LostDeg: lost,
			Interval95Deg: [2]float64{lo, hi},
			RetainedPct:   100 * challenge / base, Verdict: verdict, BaselineReps: 3, ChallengeReps: 1,
			BaselineBottomDeg: base + 1, ChallengeBottomDeg: challenge + 1, BottomLostDeg: lost,
			BottomInterval95Deg: [2]float64{lo, hi}, BottomVerdict: verdict, BaselineZeroKnown: true, ChallengeZeroKnown: true}
	}
	for i := 1; i < len(analyses); i++ {
		c.Pairs = append(c.Pairs, kinematics.Pair{Baseline: "slow", Challenge: string(analyses[i].Reps[0].Tempo),
			ChallengeClip: i,
			Joints: body.ByJoint[kinematics.JointChange]{
				body.AnkleJoint: change(34, 25, 9, 6, 12, "lost"),
				body.KneeJoint:  change(114, 115, -0.4, -3, 2, "held"),
				body.HipJoint:   change(110, 116, -6, -9, -4, "gained"),
			}})
	}
	c.Ladder = kinematics.Ladder{Rungs: []kinematics.Rung{{
		Position: kinematics.PositionHeel, Unit: "% of foot", First: "fast", PointsTo: kinematics.PointsToControlAtSpeed,
		Cells: []kinematics.Cell{{Condition: "slow", Value: 0.4, ZeroKnown: true},
			{Condition: "fast", Value: 9, ZeroKnown: true, Change: &stats.Change{Verdict: "gained"}}},
	}}}
	c.Conclude()
	return c, nil
}

func (ta *testApp) run(args ...string) int { return run(context.Background(), args, ta.app) }

func TestExitCodes(t *testing.T) {
	tests := []struct {
		name    string
		args    []string
		code    int
		message string // part of standard error
	}{
		{"no command", nil, exitOK, ""},
		{"help", []string{"analyze", "--help"}, exitOK, ""},
		{"unknown command", []string{"analize"}, exitUsage, "did you mean analyze"},
		{"unknown flag", []string{"analyze", "slow.mp4", "--fps", "3"}, exitUsage, "unknown flag: --fps"},
		{"flag without value", []string{"analyze", "slow.mp4", "--out"}, exitUsage, "--out"},
		{"no clip", []string{"analyze"}, exitUsage, "one or more clips"},
		{"four to compare", []string{"compare", "a", "b", "c", "d"}, exitUsage, "one to three"},
		{"argument for demo", []string{"demo", "x"}, exitUsage, "no arguments"},
		{"argument for version", []string{"version", "x"}, exitUsage, "no arguments"},
		{"tempo", []string{"analyze", "slow.mp4", "--tempo", "quick"}, exitUsage, `not "quick"`},
		{"tempos for clips", []string{"analyze", "slow.mp4", "--tempo", "slow,fast"}, exitUsage, "2 tempos for 1 clips"},
		{"facing", []string{"analyze", "slow.mp4", "--facing", "up"}, exitUsage, "--facing takes"},
		{"model", []string{"analyze", "slow.mp4", "--model", "lite"}, exitUsage, "--model takes"},
		{"height", []string{"analyze", "slow.mp4", "--height-cm", "1.80"}, exitUsage, "--height-cm"},
		{"height that is no number", []string{"analyze", "slow.mp4", "--height-cm", "NaN"}, exitUsage, "--height-cm"},
		{"vertical", []string{"analyze", "slow.mp4", "--vertical", "80"}, exitUsage, "--vertical"},
		{"vertical in words", []string{"analyze", "slow.mp4", "--vertical", "up"}, exitUsage, "--vertical"},
		{"vertical not a number", []string{"analyze", "slow.mp4", "--vertical", "NaN"}, exitUsage, "--vertical"},
		{"smoother", []string{"analyze", "slow.mp4", "--smoother", "none"}, exitUsage, "--smoother takes body or filter"},
		{"no such retest", []string{"compare", "slow.mp4", "fast.mp4", "--retest", "gone.mp4"}, exitUnreadable, "gone.mp4"},
		{"retest of nobody", []string{"compare", "slow.mp4", "fast.mp4", "--retest", "nobody.mp4"}, exitUnmeasurable,
			"nobody was found"},
		{"capture rate", []string{"analyze", "slow.mp4", "--capture-fps", "-240"}, exitUsage, "--capture-fps"},
		{"rep without tempo", []string{"analyze", "slow.mp4", "--rep", "2"}, exitUsage, "as 2=fast"},
		{"rep zero", []string{"analyze", "slow.mp4", "--rep", "0=fast"}, exitUsage, "as 2=fast"},
		{"rep twice", []string{"analyze", "slow.mp4", "--rep", "1=fast", "--rep", "1=slow"}, exitUsage, "twice"},
		{"rep of several clips", []string{"analyze", "slow.mp4", "fast.mp4", "--rep", "1=fast"}, exitUsage, "single clip"},
		{"smallest change", []string{"compare", "slow.mp4", "--smallest-change", "0"}, exitUsage, "--smallest-change"},
		{"no such file", []string{"analyze", "gone.mp4"}, exitUnreadable,
			"gone.mp4: the clip cannot be read: there is no such file"},
		{"folder as clip", []string{"analyze", "."}, exitUnreadable, "it is a folder"},
		{"no such clip to compare", []string{"compare", "slow.mp4", "gone.mp4"}, exitUnreadable, "there is no such file"},
		{"no such analysis", []string{"compare", "gone.json"}, exitUnreadable, "gone.json"},
		{"folder without an analysis", []string{"compare", "."}, exitUnreadable, "earlier analysis"},
		{"no video", []string{"analyze", "broken.mp4"}, exitUnreadable, "broken.mp4"},
		{"nobody", []string{"analyze", "nobody.mp4"}, exitUnmeasurable, "nobody was found"},
		{"no reps", []string{"analyze", "noreps.mp4"}, exitUnmeasurable, "no repetition"},
		{"no runtime", []string{"analyze", "uninstalled.mp4"}, exitNotInstalled, "ONNX Runtime"},
		{"unexpected", []string{"analyze", "crash.mp4"}, exitUnexpected, "an index went astray"},
		{"file in the folder's place", []string{"analyze", "slow.mp4", "--out", "fast.mp4"}, exitCannotWrite, "it is a file"},
		{"file above the folder", []string{"analyze", "slow.mp4", "--out", "fast.mp4/x"}, exitCannotWrite,
			"cannot be written"},
		{"someone else's folder", []string{"compare", "slow.mp4", "fast.mp4", "--out", "."}, exitCannotWrite,
			"not Holdfast's"},
		{"worst of several", []string{"analyze", "broken.mp4", "nobody.mp4", "slow.mp4"}, exitUnmeasurable, "broken.mp4"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			ta := newTestApp(t)
			if code := ta.run(tt.args...); code != tt.code {
				t.Errorf("exit code %d, want %d; standard error: %s", code, tt.code, ta.err)
			}
			if !strings.Contains(ta.err.String(), tt.message) {
				t.Errorf("standard error is %q, want %q in it", ta.err, tt.message)
			}
			if tt.code == exitUsage && strings.Count(strings.TrimSpace(ta.err.String()), "\n") > 0 {
				t.Errorf("standard error is more than a line: %q", ta.err)
			}
			if tt.code != exitOK && tt.name != "worst of several" && ta.out.Len() > 0 {
				t.Errorf("standard output is %q, want nothing", ta.out)
			}
			if _, err := os.Stat(resultsFolder); tt.code != exitOK && tt.name != "worst of several" && err == nil {
				t.Error("a failed run left a folder behind")
			}
		})
	}
}

func TestHelpListsExitCodes(t *testing.T) {
	for _, command := range []string{"", "analyze", "compare", "demo", "doctor", "version"} {
		ta := newTestApp(t)
		args := strings.Fields(command + " --help")
		if code := ta.run(args...); code != exitOK || !strings.Contains(ta.out.String(), "EXIT CODES") {
			t.Errorf("holdfast %v: code %d, help without its exit codes: %s", args, code, ta.out)
		}
	}
}

func TestAnalyzePrintsATableAndPutsResultsAway(t *testing.T) {
	ta := newTestApp(t)
	if code := ta.run("analyze", "fast.mp4", "--athlete", "Zoë / Ólafur"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	want := `fast.mp4: squat, 2 reps, 578 frames in 9.63 s, facing right, measured on the right side

Range of motion (ROM): largest minus smallest angle, in brackets its 95 % interval
Rep  Tempo  Bottom  Ankle           Knee              Hip                Quality
1    fast   1.05 s  24° (19 to 29)  104° (99 to 109)  130° (125 to 135)  fair
2*   fast   –       –               –                 –                  –
* rep 2 is not complete: the clip ends inside it

At the bottom; heel rise and weight on foot: of the whole rep
Rep  Tempo  Ankle  Knee  Hip   Heel rise    Weight on foot  Outside middle
1    fast   –      105°  129°  3.1 ±0.8 cm  61 ±10 %        0.40 s
2*   fast   –      –     –     –            –               –
Weight on foot: 0 % heel, 100 % toe, estimated from video; middle: 25 to 75 %.
Rep 1: film at 60 or 120 frames a second.
All numbers  holdfast-results/Zoë _ Ólafur/2025-05-02/fast/analysis.json
`
	if got := filepath.ToSlash(ta.out.String()); got != want {
		t.Errorf("standard output is\n%s\nwant\n%s", got, want)
	}
	if !strings.Contains(ta.err.String(), "warning: fast.mp4: 30 frames a second") {
		t.Errorf("standard error is %q, want the warning", ta.err)
	}
}

// Each clip has the conditions given for it, and the sides of a comparison are called by what differs.
func TestConditionsOfClips(t *testing.T) {
	opts := analysisOptions{conditions: []string{"footwear=barefoot", "load_kg=60, after_reps=20, footwear=barefoot"}}
	all, err := opts.choices(2)
	if err != nil {
		t.Fatal(err)
	}
	if all[0].LoadKg != nil || all[1].LoadKg == nil || *all[1].LoadKg != 60 {
		t.Errorf("loads %v and %v", all[0].LoadKg, all[1].LoadKg)
	}
	var analyses []*screening.Analysis
	for _, choice := range all {
		a := sampleAnalysis("slow", "Sam Example")
		if a.LoadKg, a.Setting = math.NaN(), choice.Setting.OrNil(); choice.LoadKg != nil {
			a.LoadKg = *choice.LoadKg
		}
		analyses = append(analyses, a)
	}
	sides, axis := screening.SidesBySetting(analyses)
	got := strings.Join(sides, " | ")
	if got != "fresh | fatigued with 60 kg, after 20 reps" || axis != kinematics.AxisFatigue {
		t.Errorf("compared are %q by %s", got, axis)
	}
}

// What has no zero is marked at the number, and what a load hides is asked for and said.
func TestAnalyzeMarksWhatIsNotKnown(t *testing.T) {
	const asks, hides = "say so with --load", "20 kg in hand"
	tests := []struct {
		name   string
		change func(a *screening.Analysis)
		want   []string
		not    []string
	}{
		{"standing, nothing said of a load", func(a *screening.Analysis) { a.LoadKg = math.NaN() }, []string{"105°", asks},
			[]string{"†", hides}},
		{"no standing, no load", func(a *screening.Analysis) { a.Reps[0].Angles[body.KneeFlexion].ZeroKnown = false },
			[]string{"105°†", "\n† Nobody stands still", "12° to 19° too high"}, []string{asks, hides}},
		{"a load", func(a *screening.Analysis) { a.LoadKg = 20 }, []string{hides}, []string{"†", asks}},
		{"a set after others", func(a *screening.Analysis) { a.Setting = &setting.Setting{Cue: "be quick"} },
			[]string{"The set: cue: be quick."}, nil},
		{"between", func(a *screening.Analysis) { a.Reps[0].Between = true }, []string{"medium"}, []string{"†"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			a := sampleAnalysis("slow", "Sam Example")
			tt.change(a)
			var out strings.Builder
			terminal.Analysis(&out, a)
			for _, s := range tt.want {
				if !strings.Contains(out.String(), s) {
					t.Errorf("%q is missing:\n%s", s, out.String())
				}
			}
			for _, s := range tt.not {
				if strings.Contains(out.String(), s) {
					t.Errorf("%q is printed:\n%s", s, out.String())
				}
			}
		})
	}
}

func TestAnalyzeOneFailureDoesNotStopTheOthers(t *testing.T) {
	ta := newTestApp(t)
	code := ta.run("analyze", "nobody.mp4", "gone.mp4", "slow.mp4", "--json", "--out", "out")
	if code != exitUnmeasurable {
		t.Errorf("exit code %d, want %d", code, exitUnmeasurable)
	}
	var a screening.Analysis
	if err := json.Unmarshal(ta.out.Bytes(), &a); err != nil || a.Clip.Name != "slow.mp4" {
		t.Errorf("standard output is no analysis of slow.mp4: %v: %s", err, ta.out)
	}
	var failures []string
	for line := range strings.Lines(ta.err.String()) {
		var e struct {
			Error string
			Code  int
		}
		if strings.HasPrefix(line, "{") {
			if err := json.Unmarshal([]byte(line), &e); err != nil {
				t.Errorf("%q is no JSON: %v", line, err)
			}
			failures = append(failures, fmt.Sprint(e.Code))
		}
	}
	if got := strings.Join(failures, " "); got != "4 3" {
		t.Errorf("the codes of the failures are %q, want 4 3", got)
	}
	if _, err := os.Stat(filepath.Join("out", "slow", "analysis.json")); err != nil {
		t.Error(err)
	}
}

func TestJSONErrors(t *testing.T) {
	ta := newTestApp(t)
	ta.run("analyze", "slow.mp4", "--json", "--facing", "up")
	var e struct {
		Error string
		Code  int
	}
	if err := json.Unmarshal(ta.err.Bytes(), &e); err != nil || e.Code != exitUsage || e.Error == "" || ta.out.Len() > 0 {
		t.Errorf("standard error is %q (%v), standard output %q", ta.err, err, ta.out)
	}
}

func TestComparePrintsTableAndSentences(t *testing.T) {
	ta := newTestApp(t)
	if code := ta.run("compare", "slow.mp4", "fast.mp4", "jump.mp4", "--no-video"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	for _, want := range []string{
		"Range of motion, slow against jump (3 reps, 1 rep)\nJoint  slow  jump  Lost  95 % interval  Retained  At the " +
			"bottom  Verdict\n" +
			"Ankle  34°   25°   9°    6° to 12°      74 %      35° → 26°      lost\n",
		"Ankle at the bottom: 35° slow, 26° jumping, 9° lost (6 to 12). First lost at: fast.\n",
		"  Range of motion: 34° slow, 25° jumping, 9° lost (6 to 12). First lost at: fast.\n",
		"Hip    110°  116°  −6°   −9° to −4°     105 %     111° → 117°    gained\n",
		"Position   slow  fast      First outside\nHeel rise  0 %   9 % more  fast\nThe heel is down in the slow rep and " +
			"comes up in the fast one: that points to control at speed.\nThis is what the clips point to, not a diagnosis. " +
			"Pain, injury and return to sport belong to licensed practice.\n",
		"holdfast-results/unnamed/2025-05-02/compare_slow_fast_jump/comparison.json\n",
		"holdfast-results/unnamed/2025-05-02/jump/analysis.json\n",
	} {
		if !strings.Contains(filepath.ToSlash(ta.out.String()), want) {
			t.Errorf("standard output is\n%s\nwant in it\n%s", ta.out, want)
		}
	}
}

func TestCompareTakesEarlierAnalyses(t *testing.T) {
	ta := newTestApp(t)
	if code := ta.run("analyze", "slow.mp4", "--athlete", "Sam"); code != exitOK {
		t.Fatal(ta.err)
	}
	earlier := filepath.Join(resultsFolder, "Sam", "2025-05-02", "slow")
	for _, arg := range []string{earlier, filepath.Join(earlier, "analysis.json")} {
		if code := ta.run("compare", arg, "fast.mp4"); code != exitOK {
			t.Fatalf("exit code %d: %s", code, ta.err)
		}
		data, err := os.ReadFile(filepath.Join(resultsFolder, "Sam", "2025-05-02", "compare_slow_fast", "comparison.json"))
		if err != nil {
			t.Fatal(err)
		}
		var c screening.Comparison
		if err := json.Unmarshal(data, &c); err != nil {
			t.Fatal(err)
		}
		if c.Athlete != "Sam" || c.Clips[0].Analysis != "../slow/analysis.json" ||
			c.Clips[1].Analysis != "../fast/analysis.json" {
			t.Errorf("the comparison names %q, %+v", c.Athlete, c.Clips)
		}
	}
}

func TestCompareWithRetest(t *testing.T) {
	ta := newTestApp(t)
	if code := ta.run("compare", "slow.mp4", "fast.mp4", "--retest", "again.mp4", "--tempo", "slow,fast", "--out",
		"out"); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	if want := "own smallest detectable change: knee 4°, hip 6°, ankle 2.5°.\n"; !strings.Contains(ta.out.String(), want) {
		t.Errorf("standard output is\n%s\nwant in it %q", ta.out, want)
	}
	if len(ta.calls) != 3 || ta.calls[2].Tempo != events.TempoSlow {
		t.Errorf("the retest is measured with %+v", ta.calls)
	}
	data, err := os.ReadFile(filepath.Join("out", "comparison.json"))
	if err != nil {
		t.Fatal(err)
	}
	var c screening.Comparison
	if err := json.Unmarshal(data, &c); err != nil {
		t.Fatal(err)
	}
	if len(c.Clips) != 2 || len(c.Analyses) != 0 || c.Retest == nil || c.Retest.Analysis != "again/analysis.json" {
		t.Errorf("the comparison names %+v and the retest %+v", c.Clips, c.Retest)
	}
	if _, err := os.Stat(filepath.Join("out", "again", "analysis.json")); err != nil {
		t.Error(err)
	}
	// An earlier analysis will do as well.
	if code := ta.run("compare", "slow.mp4", "fast.mp4", "--retest", filepath.Join("out", "again"), "--out",
		"out2"); code != exitOK {
		t.Errorf("exit code %d: %s", code, ta.err)
	}
}

func TestCompareWarnsOfWhatDoesNotFit(t *testing.T) {
	ta := newTestApp(t)
	for clip, athlete := range map[string]string{"slow.mp4": "Sam", "fast.mp4": "Kim"} {
		if code := ta.run("analyze", clip, "--athlete", athlete, "--out", clip+"-out"); code != exitOK {
			t.Fatal(ta.err)
		}
	}
	ta.err.Reset()
	if code := ta.run("compare", "slow.mp4-out", "fast.mp4-out", "--facing", "left"); code != exitOK {
		t.Fatal(ta.err)
	}
	for _, want := range []string{"slow.mp4-out is an earlier analysis", "different athletes: Kim, Sam"} {
		if !strings.Contains(ta.err.String(), want) {
			t.Errorf("standard error is %q, want %q in it", ta.err, want)
		}
	}
}

func TestCompareIntoAFolder(t *testing.T) {
	ta := newTestApp(t)
	compare := func() int { return ta.run("compare", "slow.mp4", "fast.mp4", "--out", "out/friday") }
	if code := compare(); code != exitOK {
		t.Fatalf("exit code %d: %s", code, ta.err)
	}
	note := filepath.Join("out", "friday", "slow", "note.txt")
	if err := os.WriteFile(note, []byte("left heel"), 0o644); err != nil {
		t.Fatal(err)
	}
	if code := compare(); code != exitOK {
		t.Fatalf("exit code of the second run %d: %s", code, ta.err)
	}
	for _, path := range []string{"comparison.json", "slow/analysis.json", "fast/analysis.json", "slow/note.txt"} {
		if _, err := os.Stat(filepath.Join("out", "friday", path)); err != nil {
			t.Error(err)
		}
	}
	if left, _ := filepath.Glob("out/.*"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestInterruptLeavesNothing(t *testing.T) {
	ta := newTestApp(t)
	ctx, cancel := context.WithCancel(context.Background())
	ta.beforeCompare = cancel
	code := run(ctx, []string{"compare", "slow.mp4", "fast.mp4", "--out", "out"}, ta.app)
	if code != exitInterrupted || !strings.Contains(ta.err.String(), "interrupted") {
		t.Errorf("exit code %d, standard error %q", code, ta.err)
	}
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".mp4") {
			t.Errorf("left behind: %s", e.Name())
		}
	}
	ta = newTestApp(t)
	if code := run(ctx, []string{"analyze", "slow.mp4", "fast.mp4"}, ta.app); code != exitInterrupted {
		t.Errorf("exit code of analyze %d, want %d", code, exitInterrupted)
	}
}

func TestChoicesReachTheAnalysis(t *testing.T) {
	ta := newTestApp(t)
	if code := ta.run("analyze", "slow.mp4", "--tempo", "fast", "--rep", "2=jump", "--facing", "left",
		"--capture-fps", "240", "--height-cm", "178", "--model", "full",
		"--vertical", "-2.5", "--smoother", "filter"); code != exitOK {
		t.Fatal(ta.err)
	}
	got := ta.calls[0]
	if got.Tempo.String() != "fast" || got.RepTempo[2].String() != "jump" || got.Facing.String() != "left" ||
		got.CaptureFPS != 240 || got.HeightCm != 178 || got.Model != "full" || got.Athlete != "unnamed" ||
		got.VerticalDeg == nil || *got.VerticalDeg != -2.5 || got.Smoother != body.SmootherFilter {
		t.Errorf("the choices are %+v", got)
	}
}

func TestColorOnlyOnRequest(t *testing.T) {
	ta := newTestApp(t)
	ta.run("compare", "slow.mp4", "fast.mp4")
	if strings.Contains(ta.out.String(), "\x1b") {
		t.Error("colour where none was asked for")
	}
	ta.color = true
	ta.out.Reset()
	ta.run("compare", "slow.mp4", "fast.mp4")
	if !strings.Contains(ta.out.String(), "\x1b[1;33mlost\x1b[0m") {
		t.Errorf("no colour on a terminal: %q", ta.out)
	}
}

func TestNoColor(t *testing.T) {
	for _, tt := range []struct {
		noColor  string
		terminal bool
		want     bool
	}{{"", true, true}, {"1", true, false}, {"", false, false}} {
		if got := wantColor(tt.terminal, tt.noColor); got != tt.want {
			t.Errorf("NO_COLOR=%q, terminal %v: colour %v, want %v", tt.noColor, tt.terminal, got, tt.want)
		}
	}
}

func TestSafeName(t *testing.T) {
	long := strings.Repeat("é", 200)
	tests := []struct{ in, want string }{
		{"Sam Example", "Sam Example"},
		{"Øyvind Åsæther", "Øyvind Åsæther"},
		{"../../etc", "_.._etc"},
		{`a/b\c:d`, "a_b_c_d"},
		{"  .hidden. ", "hidden"},
		{"..", "x"},
		{"", "x"},
		{"tab\tand\x00nul", "tabandnul"},
		{"con", "con_"},
		{"aux.mp4", "aux_.mp4"},
		{"Sam\u202e \u200bExample\u2028", "Sam Example"},
		{long, strings.Repeat("é", 60)},
	}
	for _, tt := range tests {
		if got := safeName(tt.in, "x"); got != tt.want {
			t.Errorf("safeName(%q) = %q, want %q", tt.in, got, tt.want)
		}
	}
}

func TestUniqueNames(t *testing.T) {
	got := uniqueNames([]string{"a/squat.mp4", "b/Squat.mov", "c/squat-2.mp4", "jump.mp4"})
	if want := "squat Squat-2 squat-2-2 jump"; strings.Join(got, " ") != want {
		t.Errorf("names are %v, want %s", got, want)
	}
}

func TestProgressBarShowsFramesAndTime(t *testing.T) {
	var out bytes.Buffer
	ta := newTestApp(t)
	ta.stderr, ta.stderrTerminal = &out, true
	p := terminal.NewProgress(ta.stderr, ta.stderrTerminal, ta.now, "slow.mp4")
	p.Report("tracking", 1, 3)
	p.Report("tracking", 3, 3)
	p.End()
	if !strings.Contains(out.String(), "slow.mp4: tracking") || strings.Contains(out.String(), "\x1b[3") {
		t.Errorf("the bar is %q", out.String())
	}
}

func TestTelemetryThatStaysOnHasAnExitCode(t *testing.T) {
	err := &media.ClipError{Path: "slow.mp4", Err: fmt.Errorf("%w (setting it: no room)", models.ErrTelemetry)}
	if code := exitCode(err); code != exitNotInstalled {
		t.Errorf("exit code %d, want %d", code, exitNotInstalled)
	}
}

func TestDoctor(t *testing.T) {
	ta := newTestApp(t)
	there := check{"tool", func(context.Context) (string, error) { return "1.0", nil }, ""}
	gone := check{"library", func(context.Context) (string, error) { return "", models.ErrNoRuntime }, "run scripts/setup"}
	if err := ta.runDoctor(context.Background(), []check{there}); exitCode(err) != exitOK {
		t.Errorf("all there, but %v", err)
	}
	ta.out.Reset()
	weak := check{"wall", func(context.Context) (string, error) { return "", fmt.Errorf("%w: low", errWeaker) },
		"build it higher"}
	if err := ta.runDoctor(context.Background(), []check{weak}); exitCode(err) != exitOK {
		t.Errorf("what Holdfast works without is an error: %v", err)
	}
	for _, want := range []string{"weak ", "low", "build it higher"} {
		if !strings.Contains(ta.out.String(), want) {
			t.Errorf("the report lacks %q:\n%s", want, ta.out)
		}
	}
	ta.out.Reset()
	err := ta.runDoctor(context.Background(), []check{gone, there})
	if exitCode(err) != exitNotInstalled {
		t.Errorf("a library is missing, but the error is %v", err)
	}
	for _, want := range []string{"MISSING", "run scripts/setup", "ok", "1.0"} {
		if !strings.Contains(ta.out.String(), want) {
			t.Errorf("the report lacks %q:\n%s", want, ta.out)
		}
	}
}

// What cannot run a network is not used, and one line says so; what nobody knows is refused.
func TestDeviceFallsBack(t *testing.T) {
	const line = "--device cuda: the library that runs the networks has nothing of that kind that works on this computer"
	for _, tt := range []struct {
		args  []string
		code  int
		lines int // that speak of a device
	}{
		{[]string{"analyze", "slow.mp4"}, exitOK, 0},
		{[]string{"analyze", "slow.mp4", "--device", "cpu"}, exitOK, 0},
		{[]string{"analyze", "slow.mp4", "--device", "auto"}, exitOK, 0},
		{[]string{"analyze", "slow.mp4", "--device", "cuda"}, exitOK, 1},
		{[]string{"compare", "slow.mp4", "fast.mp4", "--device", "cuda"}, exitOK, 1},
		{[]string{"analyze", "slow.mp4", "--device", "abacus"}, exitUsage, 1},
	} {
		ta := newTestApp(t)
		if code := ta.run(tt.args...); code != tt.code {
			t.Errorf("%v: code %d: %s", tt.args, code, ta.err)
		}
		if got := strings.Count(ta.err.String(), "--device"); got != tt.lines {
			t.Errorf("%v: %d lines: %s", tt.args, got, ta.err)
		}
		if tt.code == exitOK && tt.lines > 0 && !strings.Contains(ta.err.String(), line) {
			t.Errorf("%v: %s", tt.args, ta.err)
		}
	}
}
