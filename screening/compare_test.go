package screening

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/screening/footage"
	"holdfast/vision/media"
)

// repsOf returns whole reps of one tempo with the given ranges, degrees.
func repsOf(tempo string, n int, knee, hip, ankle float64) []kinematics.Rep {
	var reps []kinematics.Rep
	for i := range n {
		d := float64(i) - float64(n-1)/2
		joint := func(rom float64) joints.AngleMeasure {
			return joints.AngleMeasure{MinDeg: 0, MaxDeg: rom + d, ROMDeg: rom + d, AtBottomDeg: rom + d, SDDeg: 1.5,
				AtLandingBottomDeg: math.NaN()}
		}
		reps = append(reps, kinematics.Rep{
			RepTimes: events.RepTimes{Number: i + 1, Tempo: events.Tempo(tempo), BottomS: float64(3 * i)},
			Measures: joints.Measures{Angles: body.ByAngle[joints.AngleMeasure]{body.KneeFlexion: joint(knee),
				body.HipFlexion: joint(hip), body.AnkleDorsiflexion: joint(ankle)}}})
	}
	return reps
}

func analysisOf(name string, reps ...[]kinematics.Rep) *Analysis {
	a := &Analysis{Schema: AnalysisSchema, Clip: ClipInfo{Name: name}, Athlete: "Sam Example"}
	for _, r := range reps {
		for _, x := range r {
			x.Number = len(a.Reps) + 1
			a.Reps = append(a.Reps, x)
		}
	}
	return a
}

// A clip without standing has no zero: its angles at the bottom are not held against those of a
// clip that has one, its ranges are, and the reader is told.
func TestCompareDifferentZeros(t *testing.T) {
	clip := func(tempo string, knee float64, stands bool) *Analysis {
		a := analysisOf(tempo+".mp4", repsOf(tempo, 3, knee, 120, 28))
		a.Series.StandFound = stands
		for i := range a.Reps {
			for k := range a.Reps[i].Angles {
				a.Reps[i].Angles[k].ZeroKnown = stands
			}
		}
		return a
	}
	for _, tt := range []struct {
		name     string
		slow     bool // stands
		fast     bool
		compared bool
	}{{"both stand", true, true, true}, {"neither does", false, false, true}, {"one does", true, false, false},
		{"the other does", false, true, false}} {
		t.Run(tt.name, func(t *testing.T) {
			c, err := Compare([]*Analysis{clip("slow", 110, tt.slow), clip("fast", 90, tt.fast)}, CompareOptions{})
			if err != nil {
				t.Fatal(err)
			}
			knee := c.Pairs[0].Joints[body.KneeJoint]
			if knee.Verdict != stats.Lost {
				t.Errorf("the range is %s", knee.Verdict)
			}
			if compared := knee.BottomVerdict == stats.Lost && !math.IsNaN(knee.BottomLostDeg); compared != tt.compared {
				t.Errorf("at the bottom: %s, %.0f", knee.BottomVerdict, knee.BottomLostDeg)
			}
			if knee.BaselineZeroKnown != tt.slow || knee.ChallengeZeroKnown != tt.fast || math.IsNaN(knee.ChallengeBottomDeg) {
				t.Errorf("zero known: %v and %v, at the bottom %.0f", knee.BaselineZeroKnown, knee.ChallengeZeroKnown,
					knee.ChallengeBottomDeg)
			}
			warned := slices.ContainsFunc(c.Warnings, func(w Warning) bool { return w.Code == "different_zeros" })
			if warned == tt.compared {
				t.Errorf("warnings %v", c.Warnings)
			}
		})
	}
}

// An analysis of before says of the whole clip whether its angles have a zero.
func TestLoadAnalysisWithoutZeros(t *testing.T) {
	for _, stands := range []bool{true, false} {
		old := analysisOf("slow.mp4", repsOf("slow", 1, 114, 120, 28))
		old.Schema, old.Series.StandFound = earlierAnalysisSchemas[1], stands
		text, err := json.Marshal(old)
		if err != nil {
			t.Fatal(err)
		}
		var read Analysis
		if err := json.Unmarshal([]byte(strings.ReplaceAll(string(text), `"zero_known":false,`, "")), &read); err != nil {
			t.Fatal(err)
		}
		if got := read.Reps[0].Angles[body.KneeFlexion].ZeroKnown; got != stands || !math.IsNaN(read.LoadKg) {
			t.Errorf("the zero is known: %v, want %v; load %v", got, stands, read.LoadKg)
		}
	}
}

func TestCompareTempos(t *testing.T) {
	slow, fast, jump := repsOf("slow", 3, 114, 120, 28), repsOf("fast", 3, 99, 121, 20), repsOf("jump", 3, 94, 119, 18)
	tests := []struct {
		name     string
		analyses []*Analysis
		pairs    string
		warning  string
	}{
		{"one clip a tempo", []*Analysis{analysisOf("a", slow), analysisOf("b", fast), analysisOf("c", jump)},
			"slow-fast slow-jump fast-jump", ""},
		{"two clips", []*Analysis{analysisOf("a", slow), analysisOf("b", jump)}, "slow-jump", ""},
		{"one clip with all", []*Analysis{analysisOf("a", slow, fast, jump)}, "slow-fast slow-jump fast-jump", ""},
		{"the order does not matter", []*Analysis{analysisOf("b", fast), analysisOf("a", slow)}, "slow-fast", ""},
		{"same speed twice", []*Analysis{analysisOf("a", slow), analysisOf("b", repsOf("slow", 3, 99, 121, 20))},
			"first-second", "one_tempo"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c, err := Compare(tt.analyses, CompareOptions{})
			if err != nil {
				t.Fatal(err)
			}
			var pairs []string
			for _, p := range c.Pairs {
				pairs = append(pairs, p.Baseline+"-"+p.Challenge)
			}
			if got := strings.Join(pairs, " "); got != tt.pairs {
				t.Errorf("pairs %q, want %q", got, tt.pairs)
			}
			warned := ""
			for _, w := range c.Warnings {
				warned = w.Code
			}
			if warned != tt.warning {
				t.Errorf("warning %q, want %q", warned, tt.warning)
			}
			if c.Athlete != "Sam Example" || c.SmallestChangeDeg != 5 {
				t.Errorf("athlete %q, smallest change %v", c.Athlete, c.SmallestChangeDeg)
			}
			p := c.Pairs[0]
			if of, ok := c.ConditionOf(p.BaselineClip, c.Analyses[p.BaselineClip].Reps[p.BaselineRep-1].Tempo); !ok ||
				of.Key != p.Baseline {
				t.Errorf("the typical baseline rep is of %q", of.Key)
			}
		})
	}
}

func TestCompareNumbers(t *testing.T) {
	c, err := Compare([]*Analysis{analysisOf("a", repsOf("slow", 3, 114, 120, 28)),
		analysisOf("b", repsOf("fast", 3, 99, 121, 20))}, CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	knee := c.Pairs[0].Joints[body.KneeJoint]
	if math.Abs(knee.LostDeg-15) > 1e-9 || math.Abs(knee.RetainedPct-100*99.0/114) > 1e-9 || knee.Verdict != "lost" {
		t.Errorf("knee: %+v", knee)
	}
	if !(knee.Interval95Deg[0] < 15 && 15 < knee.Interval95Deg[1]) || knee.BaselineReps != 3 {
		t.Errorf("knee interval %v, %d reps", knee.Interval95Deg, knee.BaselineReps)
	}
	if c.FirstLost[body.KneeJoint] == nil || *c.FirstLost[body.KneeJoint] != "fast" || c.FirstLost[body.HipJoint] != nil {
		t.Errorf("first lost %v, hip %v", c.FirstLost[body.KneeJoint], c.FirstLost[body.HipJoint])
	}
	left, right := analysisOf("a", repsOf("slow", 3, 114, 120, 28)), analysisOf("b", repsOf("fast", 3, 99, 121, 20))
	left.NearSide, right.NearSide = "left", "right"
	// Written and read again, the comparison is the same.
	data, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	var again Comparison
	if err := json.Unmarshal(data, &again); err != nil || again.Pairs[0].Joints[body.KneeJoint].Verdict != "lost" {
		t.Errorf("read again: %v, %+v", err, again.Pairs)
	}
}

// Clips of one tempo are compared by what they differ in otherwise.
func TestCompareSides(t *testing.T) {
	slow, weak, fast := repsOf("slow", 3, 114, 120, 28), repsOf("slow", 3, 99, 121, 20), repsOf("fast", 2, 90, 110, 18)
	for _, tt := range []struct {
		name     string
		analyses []*Analysis
		sides    []string
		pairs    string // with their words
		tempo    string
	}{
		{"fresh and loaded", []*Analysis{analysisOf("a", slow), analysisOf("b", weak)},
			[]string{"fresh", "loaded with 60 kg"}, "fresh-loaded with 60 kg", "slow"},
		{"each with slow and fast reps", []*Analysis{analysisOf("a", slow, fast), analysisOf("b", fast, weak)},
			[]string{"fresh", "loaded with 60 kg"}, "fresh-loaded with 60 kg", "slow"},
		{"three visits", []*Analysis{analysisOf("a", slow), analysisOf("b", weak), analysisOf("c", slow)},
			[]string{"2026-01-01", "2026-02-01", "2026-03-01"},
			"2026-01-01-2026-02-01 2026-01-01-2026-03-01 2026-02-01-2026-03-01", "slow"},
		{"named after the clips", []*Analysis{analysisOf("morning.mp4", slow), analysisOf("evening.mp4", weak)}, nil,
			"morning-evening", "slow"},
		{"clips of one name", []*Analysis{analysisOf("a.mp4", slow), analysisOf("a.mov", weak)}, nil,
			"first clip-second clip", "slow"},
		{"one condition, two tempos", []*Analysis{analysisOf("a", slow), analysisOf("b", fast)},
			[]string{"fresh", "fresh"}, "slow-fast", ""},
		{"no tempo in common", []*Analysis{analysisOf("a", slow), analysisOf("b", fast)},
			[]string{"fresh", "loaded with 60 kg"}, "slow-fast", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c, err := Compare(tt.analyses, CompareOptions{Sides: tt.sides})
			if err != nil {
				t.Fatal(err)
			}
			var pairs []string
			for _, p := range c.Pairs {
				pairs = append(pairs, c.Word(p.Baseline)+"-"+c.Word(p.Challenge))
			}
			if got := strings.Join(pairs, " "); got != tt.pairs || c.Tempo != tt.tempo ||
				(tt.tempo == "") != (len(c.Sides) == 0) {
				t.Fatalf("compared %q of tempo %q, want %q of %q; sides %+v", got, c.Tempo, tt.pairs, tt.tempo, c.Sides)
			}
			if tt.tempo == "" {
				return
			}
			knee := c.Pairs[0].Joints[body.KneeJoint]
			if math.Abs(knee.LostDeg-15) > 1e-9 || knee.BaselineReps != 3 || knee.ChallengeReps != 3 ||
				c.FirstLost[body.KneeJoint] == nil || *c.FirstLost[body.KneeJoint] != "second" || c.Landing != nil {
				t.Errorf("knee %+v, first lost %v, landing %v", knee, c.FirstLost[body.KneeJoint], c.Landing)
			}
			for _, r := range c.Ladder.Rungs {
				if r.PointsTo != "" {
					t.Errorf("the ladder of conditions says %q", r.PointsTo)
				}
			}
			for i, a := range c.Analyses {
				if a != tt.analyses[i] {
					t.Errorf("%s was copied", a.Clip.Name)
				}
				for _, r := range a.Reps {
					if of, ok := c.ConditionOf(i, r.Tempo); ok != (r.Tempo == "slow") ||
						ok && (of.Key != c.Sides[i].Key || of.Words != c.Sides[i].Words || of.Rank != i+1) {
						t.Errorf("rep %d of %s, %s, is of condition %+v, compared %v", r.Number, a.Clip.Name, r.Tempo, of, ok)
					}
				}
			}
		})
	}
}

// Between two days lies more than between two clips of one.
func TestCompareDays(t *testing.T) {
	slow, weak, jump := repsOf("slow", 3, 114, 120, 28), repsOf("slow", 3, 109, 121, 20), repsOf("jump", 3, 94, 119, 18)
	width := func(analyses []*Analysis, dates []string, pair int) float64 {
		t.Helper()
		c, err := Compare(analyses, CompareOptions{Dates: dates})
		if err != nil {
			t.Fatal(err)
		}
		told := slices.ContainsFunc(c.Warnings, func(w Warning) bool { return w.Code == "different_days" })
		differ := len(dates) > 0 && slices.ContainsFunc(dates, func(d string) bool { return d != dates[0] })
		if told != differ {
			t.Errorf("%v: warned of days %v", dates, told)
		}
		iv := c.Pairs[pair].Joints[body.KneeJoint].Interval95Deg
		return (iv[1] - iv[0]) / 2
	}
	for _, tt := range []struct {
		name     string
		analyses []*Analysis
		dates    []string
		pair     int
		wider    bool
	}{
		{"one day", []*Analysis{analysisOf("a", slow), analysisOf("b", weak)},
			[]string{"2026-05-01", "2026-05-01"}, 0, false},
		{"two days", []*Analysis{analysisOf("a", slow), analysisOf("b", weak)},
			[]string{"2026-05-01", "2026-06-01"}, 0, true},
		{"a jump of another day", []*Analysis{analysisOf("a", slow), analysisOf("b", jump)},
			[]string{"2026-05-01", "2026-06-01"}, 0, true},
		{"of three, the two of one day",
			[]*Analysis{analysisOf("a", slow), analysisOf("b", repsOf("fast", 3, 99, 121, 20)), analysisOf("c", jump)},
			[]string{"2026-05-01", "2026-05-01", "2026-06-01"}, 0, false},
	} {
		same, now := width(tt.analyses, nil, tt.pair), width(tt.analyses, tt.dates, tt.pair)
		if tt.wider && !(now > same+0.1) || !tt.wider && math.Abs(now-same) > 1e-9 {
			t.Errorf("%s: half width %.2f, on one day %.2f", tt.name, now, same)
		}
	}
}

// The ladder, the pair and the page of one clip say what kinematics makes of the mean of
// the same readings, and nothing of their own.
func TestMeansAreKinematics(t *testing.T) {
	slow, fast := analysisOf("a", repsOf("slow", 3, 114, 120, 28)), analysisOf("b", repsOf("fast", 3, 99, 121, 20))
	for _, a := range []*Analysis{slow, fast} {
		for i := range a.Reps {
			angles := &a.Reps[i].Angles
			for _, m := range []*joints.AngleMeasure{
				&angles[body.KneeFlexion], &angles[body.HipFlexion], &angles[body.AnkleDorsiflexion],
			} {
				m.SystematicSDDeg, m.ROMInterval95Deg = 1.2, [2]float64{m.ROMDeg - 6, m.ROMDeg + 6}
			}
		}
		a.Sets = []kinematics.Set{{Tempo: a.Reps[0].Tempo,
			Positions: []kinematics.PositionReadings{{Position: kinematics.PositionAnkle, Unit: "degrees",
				Readings: stats.Readings{Values: []float64{27, 29, 31}, NoiseSD: 1.6}}}}}
	}
	same := func(what string, got [2]float64, want stats.Estimate) {
		t.Helper()
		if in := want.Interval95(); math.Abs(got[0]-in[0]) > 1e-9 || math.Abs(got[1]-in[1]) > 1e-9 {
			t.Errorf("%s: %v, want %v", what, got, in)
		}
	}
	c, err := Compare([]*Analysis{slow, fast}, CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	readings := stats.Readings{Values: []float64{27, 29, 31}, NoiseSD: 1.6}
	ankle := kinematics.CompareOptions{}.ForAngle(body.AnkleDorsiflexion)
	for _, r := range c.Ladder.Rungs {
		if r.Position == kinematics.PositionAnkle {
			same("ladder", r.Cells[0].Interval95, readings.Mean(ankle))
		}
	}
	// On two days each mean has what days differ by.
	if c, err = Compare([]*Analysis{slow, fast}, CompareOptions{Dates: []string{"2026-05-01", "2026-06-01"}}); err != nil {
		t.Fatal(err)
	}
	readings.OccasionSD = ankle.OccasionSD
	for _, r := range c.Ladder.Rungs {
		if r.Position == kinematics.PositionAnkle {
			same("ladder of two days", r.Cells[0].Interval95, readings.Mean(ankle))
		}
	}
	if c, err = Compare([]*Analysis{slow, fast}, CompareOptions{}); err != nil {
		t.Fatal(err)
	}
	if reps := TypicalReps(slow); len(reps) != 1 || reps[0] != &slow.Reps[c.Pairs[0].BaselineRep-1] {
		t.Errorf("one clip shows another rep than the comparison: %+v", reps)
	}
}

// The same test filmed twice says what chance makes; the larger of that and the
// smallest change that matters decides.
func TestCompareWithRetest(t *testing.T) {
	nan := math.NaN()
	slow, fast := analysisOf("a", repsOf("slow", 3, 114, 120, 28)), analysisOf("b", repsOf("fast", 3, 108, 119, 20))
	again := analysisOf("again", repsOf("slow", 3, 118, 121, 28), repsOf("fast", 1, 90, 100, 10))
	again.Warnings = []Warning{{Code: "low_confidence", Message: "dark"}}
	once, err := Compare([]*Analysis{slow, fast}, CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if once.MDC95Deg != nil || once.Retest != nil || once.Pairs[0].Joints[body.KneeJoint].Verdict != "lost" {
		t.Fatalf("filmed once: %+v, %+v, knee %s", once.MDC95Deg, once.Retest, once.Pairs[0].Joints[body.KneeJoint].Verdict)
	}
	c, err := Compare([]*Analysis{slow, fast}, CompareOptions{Retest: again})
	if err != nil {
		t.Fatal(err)
	}
	// All reps differ by 4, 1 and 0 degrees: 1.96 sqrt(2) of a mean square within
	// pairs of d^2/2 is 1.96 d.
	want := body.ByJoint[float64]{body.KneeJoint: 1.96 * 4, body.HipJoint: 1.96}
	for j := range want {
		if math.Abs(c.MDC95Deg[j]-want[j]) > 1e-9 {
			t.Errorf("the smallest detectable change is %+v, want %+v", c.MDC95Deg, want)
		}
	}
	if c.Pairs[0].Joints[body.KneeJoint].Verdict != "unclear" || c.Pairs[0].Joints[body.AnkleJoint].Verdict != "lost" ||
		c.Retest.Name != "again" || len(c.Clips) != 2 {
		t.Errorf("knee %s, ankle %s, retest %+v", c.Pairs[0].Joints[body.KneeJoint].Verdict,
			c.Pairs[0].Joints[body.AnkleJoint].Verdict, c.Retest)
	}
	if n := len(c.Warnings); n != 1 || Say(c.Warnings[0]) != "again: dark" {
		t.Errorf("warnings %+v", c.Warnings)
	}
	data, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	var back Comparison
	if err := json.Unmarshal(data, &back); err != nil || back.MDC95Deg == nil ||
		math.Abs(back.MDC95Deg[body.KneeJoint]-want[body.KneeJoint]) > 1e-4 {
		t.Errorf("read again: %v, %+v", err, back.MDC95Deg)
	}

	blind := repsOf("slow", 3, 118, 121, 28)
	for i := range blind {
		blind[i].Angles[body.AnkleDorsiflexion].ROMDeg = nan
	}
	if c, err = Compare([]*Analysis{slow, fast}, CompareOptions{Retest: analysisOf("again", blind)}); err != nil ||
		!math.IsNaN(c.MDC95Deg[body.AnkleJoint]) || math.IsNaN(c.MDC95Deg[body.KneeJoint]) {
		t.Errorf("no ankle: %+v, %v", c, err)
	}

	slow.Clip.SHA256 = "00"
	same := analysisOf("same", repsOf("slow", 3, 114, 120, 28))
	same.Clip.SHA256 = "00"
	for _, tt := range []struct {
		name   string
		retest *Analysis
		want   error
	}{
		{"the same clip", same, ErrCannotMeasure},
		{"no slow rep", analysisOf("again", repsOf("fast", 3, 114, 120, 28)), ErrCannotMeasure},
		{"one rep", analysisOf("again", repsOf("slow", 1, 114, 120, 28)), ErrCannotMeasure},
		{"a hinge", analysisOf("again", repsOf("slow", 3, 25, 85, 3)), ErrDifferentMovement},
	} {
		if _, err := Compare([]*Analysis{slow, fast}, CompareOptions{Retest: tt.retest}); !errors.Is(err, tt.want) ||
			strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want %v", tt.name, err, tt.want)
		}
	}
	// Tempos told by the order of the clips: the retest is of the first.
	if _, err := Compare([]*Analysis{slow, analysisOf("b", repsOf("slow", 3, 99, 121, 20))},
		CompareOptions{Retest: analysisOf("again", repsOf("fast", 3, 115, 120, 28))}); err != nil {
		t.Errorf("told by the order: %v", err)
	}
}

func TestQualityIsKept(t *testing.T) {
	data, err := EncodeJSON(joints.Quality{Grade: joints.GradeFair, FramesInTurn: 7, FilledPct: 2,
		HiddenPct: 3, Confidence: math.NaN(),
		WeakestPoint: body.Toe, FastestPxPerFrame: 20, BlurPx: 10, Advice: notice.New("film_in_more_light", nil)})
	if err != nil {
		t.Fatal(err)
	}
	want := `{"grade":"fair","frames_in_turn":7,"filled_pct":2,"hidden_pct":3,"confidence":null,"weakest_point":"toe",` +
		`"fastest_px_per_frame":20,"blur_px":10,"advice":{"code":"film_in_more_light"}}`
	if string(data) != want {
		t.Errorf("got  %s\nwant %s", data, want)
	}
}

func TestCompareRefuses(t *testing.T) {
	partial := repsOf("fast", 2, 99, 121, 20)
	for i := range partial {
		partial[i].Partial = true
	}
	tests := []struct {
		name     string
		analyses []*Analysis
		want     error
	}{
		{"one tempo only", []*Analysis{analysisOf("a", repsOf("slow", 3, 114, 120, 28))}, ErrCannotMeasure},
		{"partial reps only", []*Analysis{analysisOf("a", repsOf("slow", 3, 114, 120, 28)), analysisOf("b", partial)},
			ErrCannotMeasure},
		{"no reps at all", []*Analysis{analysisOf("a"), analysisOf("b")}, ErrCannotMeasure},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if c, err := Compare(tt.analyses, CompareOptions{}); !errors.Is(err, tt.want) ||
				strings.Contains(err.Error(), "\n") {
				t.Errorf("got a comparison: %v, %v; want %v", c != nil, err, tt.want)
			}
		})
	}
	// A squat at half depth is still a squat.
	if _, err := Compare([]*Analysis{analysisOf("a", repsOf("slow", 3, 114, 120, 28)),
		analysisOf("b", repsOf("fast", 3, 60, 68, 13))}, CompareOptions{}); err != nil {
		t.Errorf("half depth: %v", err)
	}
}

// What version 0.1 wrote is still read, and is compared with what is written now.
func TestLoadFirstAnalysis(t *testing.T) {
	old := analysisOf("slow.mp4", repsOf("slow", 3, 114, 120, 28))
	old.Schema, old.Model.Name = earlierAnalysisSchemas[0], "heavy"
	text, err := json.Marshal(old)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), "calibration") {
		t.Fatalf("version 0.1 wrote no calibration: %s", text)
	}
	path := filepath.Join(t.TempDir(), "analysis.json")
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	read, err := LoadAnalysis(path)
	if err != nil {
		t.Fatal(err)
	}
	now := analysisOf("fast.mp4", repsOf("fast", 3, 99, 121, 20))
	now.Model = ModelInfo{Name: "heavy", Calibration: &CalibrationInfo{Version: 1, Date: "2026-11-25"}}
	c, err := Compare([]*Analysis{read, now}, CompareOptions{})
	if err != nil || len(c.Pairs) != 1 || len(c.Warnings) != 0 {
		t.Errorf("got %+v, %v", c, err)
	}
}

// The sentences that results of before hold are said as they stand, beside those of today.
func TestSentencesOfBefore(t *testing.T) {
	old, err := parseAnalysis([]byte(`{"schema":"holdfast/analysis/2","clip":{"name":"slow.mp4"},
		"warnings":[{"code":"long_gap","message":"The athlete was lost."}],
		"reps":[{"number":1,"tempo":"slow","partial":true,"partial_reason":"the clip ends inside it",
			"quality":{"advice":"film in more light"},"jump":{"why_heights_differ":"The body lands taller."}},
			{"number":2,"tempo":"slow","quality":{"advice":""}}]}`))
	if err != nil {
		t.Fatal(err)
	}
	r := &old.Reps[0]
	for _, c := range []struct {
		of   kinematics.Notice
		want string
	}{
		{old.Warnings[0], "The athlete was lost."}, {r.PartialWhy, "the clip ends inside it"},
		{r.Quality.Advice, "film in more light"},
		{r.Jump.Why, "The body lands taller."}, {old.Reps[1].Quality.Advice, ""}, {old.Reps[1].PartialWhy, ""},
		{notice.New("film_in_more_light", nil), "film in more light"},
		{kinematics.Notice{Code: "no_stand", Message: "Nobody stands.", Clip: "slow.mp4"}, "slow.mp4: Nobody stands."},
	} {
		if got := Say(c.of); got != c.want {
			t.Errorf("%+v says %q, want %q", c.of, got, c.want)
		}
	}
	doc, err := EncodeTold(old, map[string]int{"n": 1})
	if err != nil || !strings.HasSuffix(string(doc), `,"said":{"n":1}}`) || !json.Valid(doc) ||
		!strings.Contains(string(doc), `"partial_reason":{"code":"","message":"the clip ends inside it"}`) {
		t.Errorf("told: %v, %s", err, doc)
	}
}

func TestLoadAnalysisRefuses(t *testing.T) {
	dir := t.TempDir()
	file := func(name, content string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for _, path := range []string{
		filepath.Join(dir, "none.json"), dir,
		file("empty.json", ""), file("garbage.json", "{]"), file("other.json", `{"schema":"other/1"}`),
		file("tempo.json", `{"schema":"holdfast/analysis/1","reps":[{"tempo":"brisk"}]}`),
		file("short.json", `{"schema":"holdfast/analysis/1","series":{"time_s":[0,1],"angles_deg":{"knee_flexion":[1]}}}`),
	} {
		if a, err := LoadAnalysis(path); err == nil {
			t.Errorf("%s: read as %+v", path, a)
		}
	}
}

func TestSlowMotionFactor(t *testing.T) {
	clip := func(rate, capture float64) *media.Clip {
		return &media.Clip{FrameRateHz: rate, CaptureRateHz: capture}
	}
	for _, tt := range []struct {
		clip  *media.Clip
		given float64
		want  float64
	}{
		{clip(30, 0), 0, 1}, {clip(30, 240), 0, 8}, {clip(30, 0), 120, 4}, {clip(30, 240), 30, 1},
		{clip(29.97, 30), 0, 1}, {clip(120, 120), 0, 1},
	} {
		got := footage.SlowMotionFactor(tt.clip.FrameRateHz, tt.clip.CaptureRateHz, tt.given)
		if math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%+v given %v: factor %v, want %v", tt.clip, tt.given, got, tt.want)
		}
	}
}

func FuzzParseAnalysis(f *testing.F) {
	data, err := json.Marshal(analysisOf("a", repsOf("slow", 1, 114, 120, 28)))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte(`{"schema":"holdfast/analysis/1"}`))
	f.Add([]byte(`{"schema":"holdfast/analysis/2"}`))
	f.Add([]byte(`{"schema":"holdfast/analysis/3","warnings":[{"code":"long_gap","params":{"from_s":[{"code":1}]}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		a, err := parseAnalysis(data)
		if err != nil {
			return
		}
		// Whatever is accepted must not break a comparison.
		for _, opt := range []CompareOptions{
			{}, {Retest: a}, {Sides: []string{a.Athlete, a.Clip.Name}, Dates: []string{a.Program, a.Facing}},
		} {
			_, _ = Compare([]*Analysis{a, a}, opt)
		}
	})
}
