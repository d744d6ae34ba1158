package said

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"holdfast/internal/compared"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/screening"
)

func TestAdvice(t *testing.T) {
	const more, back = "film_at_120", "move_back"
	for _, tc := range []struct {
		name   string
		advice []string
		want   string
	}{
		{"all good", []string{"", ""}, ""},
		{"one", []string{"", more, ""}, "Rep 2: film at 120 frames a second."},
		{"all", []string{more, more}, "All reps: film at 120 frames a second."},
		{"two and one", []string{more, back, more, more}, "Reps 1, 3 and 4: film at 120 frames a second.|" +
			"Rep 2: move 2 m further back: the whole body must be in the picture, and the toe is not."},
		{"a single rep", []string{back},
			"Rep 1: move 2 m further back: the whole body must be in the picture, and the toe is not."},
	} {
		a := &screening.Analysis{}
		for i, s := range tc.advice {
			a.Reps = append(a.Reps, kinematics.Rep{RepTimes: events.RepTimes{Number: i + 1},
				Quality: joints.Quality{Advice: notice.New(s, notice.Params{"point": "toe"})}})
		}
		if got := strings.Join(Advice(a), "|"); got != tc.want {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.want)
		}
	}
	// The warning of a low rate says it already.
	a := &screening.Analysis{Warnings: notice.List("low_frame_rate", notice.Params{"rate_hz": 30.0})}
	for _, s := range []string{"film_at_60_or_120", back} {
		a.Reps = append(a.Reps, kinematics.Rep{RepTimes: events.RepTimes{Number: len(a.Reps) + 1},
			Quality: joints.Quality{Advice: notice.New(s, notice.Params{"point": "toe"})}})
	}
	if got := Advice(a); len(got) != 1 || !strings.HasPrefix(got[0], "Rep 2: move 2 m") {
		t.Errorf("beside the warning of a low rate: %q", got)
	}
}

// Every position has all its words.
func TestPositionWords(t *testing.T) {
	for p := range movement.NumPositions {
		v := reflect.ValueOf(PositionWords(p))
		for i := range v.NumField() {
			if s := fmt.Sprint(v.Field(i)); s == "" || strings.Contains(s, "  ") {
				t.Errorf("%v: %s is %q", p, v.Type().Field(i).Name, s)
			}
		}
	}
}

func TestRungWords(t *testing.T) {
	for _, tc := range []struct {
		position         kinematics.Position
		from, to         float64
		verdict          stats.Verdict
		change, says, as string
	}{
		{kinematics.PositionKnee, 101, 84, "lost", "17° less (15 to 19)", "lost", "lost"},
		{kinematics.PositionKnee, 84, 101, "gained", "17° more (15 to 19)", "gained", "gained"},
		{kinematics.PositionSupport, 40, 62, "gained", "22 % toward the toes (20 to 24)", "nearer the toes", "moved"},
		{kinematics.PositionSupport, 62, 40, "lost", "22 % toward the heel (20 to 24)", "nearer the heel", "moved"},
		{kinematics.PositionHeel, 1, 9, "gained", "8 % more (6 to 10)", "more", "lost"},
		{kinematics.PositionTrunk, 30, 30.2, "held", "the same (−2 to 2)", "held", "held"},
		{kinematics.PositionHip, 90, 89, "unclear", "1° less (−1 to 3)", "unclear", "unclear"},
	} {
		ch := compared.Changed(tc.from, tc.to, 2, tc.verdict)
		says, as := PositionVerdict(tc.position, tc.verdict), kinematics.PositionQuantity(tc.position).Look(tc.verdict)
		if got := PositionChange(tc.position, &ch); got != tc.change || says != tc.says || as != tc.as {
			t.Errorf("%v: %q, %q, %q", tc.position, got, says, as)
		}
	}
}

func TestDecimal(t *testing.T) {
	for _, tc := range []struct {
		v        float64
		decimals int
		want     string
	}{{2.83, 1, "2.8"}, {-0.04, 1, "0.0"}, {-1.26, 1, "−1.3"}, {-0.4, 0, "0"}, {math.NaN(), 1, "–"},
		{math.Inf(1), 2, "–"}} {
		if got := Decimal(tc.v, tc.decimals); got != tc.want {
			t.Errorf("%v: %q, want %q", tc.v, got, tc.want)
		}
	}
}

// Of each verdict the sentence of the position and that of the range, neither of which speaks of the other.
func TestSentences(t *testing.T) {
	n := math.NaN()
	for _, tt := range []struct {
		name                     string
		base, chal, lost, lo, hi float64
		verdict                  stats.Verdict
		baseline, challenge      string
		zero                     bool
		want                     string
	}{
		{"lost", 34.2, 25.1, 9.1, 6.2, 12.3, "lost", "slow", "jump", true,
			"34° slow, 25° jumping, 9° lost (6 to 12). First lost at: jump."},
		{"held", 34, 32, 2, 0.2, 4, "held", "slow", "fast", true, "34° slow, 32° fast, held (2° less, 0 to 4)."},
		{"gained", 30, 37, -7, -10, -4, "gained", "slow", "jump", true, "30° slow, 37° jumping, 7° gained (4 to 10)."},
		{"unclear", 34, 30, 4, -1, 9, "unclear", "fast", "jump", true, "34° fast, 30° jumping, unclear (4° less, −1 to 9)."},
		{"unclear, more", 30, 34, -4, -9, 1, "unclear", "fast", "jump", true,
			"30° fast, 34° jumping, unclear (4° more, −1 to 9)."},
		{"the same", 30, 30, 0.2, -1.2, 1.6, "held", "slow", "fast", true, "30° slow, 30° fast, held (the same, −1 to 2)."},
		{"not measured", 30, n, n, n, n, "unclear", "slow", "jump", true, "30° slow, not measured jumping."},
		{"no interval", 34, 25, 9, n, n, "unclear", "slow", "jump", true,
			"34° slow, 25° jumping, unclear (9° less, interval not known)."},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := &screening.Comparison{}
			c.Pairs = []kinematics.Pair{{Baseline: tt.baseline, Challenge: tt.challenge}}
			c.Pairs[0].Joints[body.AnkleJoint] = kinematics.JointChange{BaselineROMDeg: tt.base, ChallengeROMDeg: tt.chal,
				LostDeg: tt.lost, Interval95Deg: [2]float64{tt.lo, tt.hi}, Verdict: tt.verdict, BaselineBottomDeg: tt.base,
				ChallengeBottomDeg: tt.chal, BottomLostDeg: tt.lost, BottomInterval95Deg: [2]float64{tt.lo, tt.hi},
				BottomVerdict: tt.verdict, BaselineZeroKnown: true, ChallengeZeroKnown: true}
			c.Conclude()
			for _, h := range Headlines(c) {
				if h.Name != "Ankle" {
					continue
				}
				if want := "Ankle at the bottom: " + tt.want; h.Sentence != want {
					t.Errorf("got  %q\nwant %q", h.Sentence, want)
				}
				if want := "Range of motion: " + tt.want; h.Range != want {
					t.Errorf("got  %q\nwant %q", h.Range, want)
				}
			}
		})
	}
	if Headlines(&screening.Comparison{}) != nil {
		t.Error("sentences without a pair")
	}
	if i := HeadlinePair(compared.Truth(t)); i != 1 {
		t.Errorf("the headline compares pair %d, want slow against jump", i)
	}
}

// The position follows the ladder: a jump's is that of its landing, a loss in between is what is told, and where no
// verdict is given the reason is.
func TestSentencesOfTheLadder(t *testing.T) {
	cell := func(at string, deg, lost float64, v stats.Verdict) kinematics.Cell {
		out := kinematics.Cell{Condition: at, Value: deg, ZeroKnown: true, Landing: at == "jump"}
		if v != "" {
			out.Change = &stats.Change{Lost: lost, Interval95: [2]float64{lost - 3, lost + 3}, Verdict: v}
		}
		return out
	}
	legs := notice.New("why_legs", notice.Params{"one": "a.mp4", "other": "b.mp4"})
	n := math.NaN()
	untold := cell("fast", 111, n, "")
	untold.ZeroKnown = false
	for _, tt := range []struct {
		name     string
		cells    []kinematics.Cell
		withheld *notice.Notice
		number   string
		want     string
	}{
		{"lost in the landing", []kinematics.Cell{cell("slow", 123, n, ""), cell("fast", 111, 12, "lost"),
			cell("jump", 108, 15, "lost")}, nil, "−15°",
			"Hip at the bottom: 123° slow, 108° landing, 15° lost (12 to 18). First lost at: fast."},
		{"lost in between", []kinematics.Cell{cell("slow", 123, n, ""), cell("fast", 111, 12, "lost"),
			cell("jump", 127, -4, "unclear")}, nil, "−12°", "Hip at the bottom: 123° slow, 111° fast, 12° lost (9 to 15). " +
			"Landing: 127°, unclear (4° more, 1 to 7)."},
		{"the landing not measured", []kinematics.Cell{cell("slow", 123, n, ""), cell("fast", 122, 1, "held"),
			cell("jump", n, n, "")}, nil, "−1°",
			"Hip at the bottom: 123° slow, 122° fast, held (1° less, −2 to 4). Landing: not measured."},
		{"two legs", []kinematics.Cell{cell("slow", 123, n, ""), cell("fast", 111, n, "")}, &legs, "",
			"Hip at the bottom: 123° slow, 111° fast. No verdict."},
		{"no common zero", []kinematics.Cell{cell("slow", 123, n, ""), untold}, nil, "",
			"Hip at the bottom: 123° slow, 111°† fast. No verdict: the athlete stands still in one of the clips only, " +
				"so the two angles have no common zero."},
	} {
		c := &screening.Comparison{Withheld: tt.withheld}
		c.Pairs = []kinematics.Pair{{Baseline: "slow", Challenge: "fast"}}
		c.Ladder.Rungs = []kinematics.Rung{{Position: kinematics.PositionHip, Unit: kinematics.Degrees, Cells: tt.cells}}
		c.Conclude()
		reasons := 0
		for _, h := range Headlines(c) {
			reasons += strings.Count(h.Sentence+h.Range, "the left side")
			if h.Name == "Hip" && (h.Sentence != tt.want || h.Number != tt.number || (h.Why != "") != (tt.number == "")) {
				t.Errorf("%s: %q, %q because %q\nwant %q", tt.name, h.Number, h.Sentence, h.Why, tt.want)
			}
		}
		if tt.withheld != nil && reasons != 1 {
			t.Errorf("%s: the reason is told %d times", tt.name, reasons)
		}
	}
}
