package screening

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/movements"
	"holdfast/screening/headline"
	"holdfast/screening/setting"
	"holdfast/words"
)

// CompareOptions are the coach's choices for a comparison.
type CompareOptions struct {
	// SmallestChangeDeg is the smallest change that matters, degrees; 0: 5.
	SmallestChangeDeg float64
	// Retest is the easiest test of the comparison filmed a second time, with
	// nothing changed between; nil: filmed once. What differs between the two is
	// chance: a smaller change is neither lost nor gained.
	Retest *Analysis
	// Sides names what the clips differ in other than tempo, one a clip: "fresh" and
	// "loaded with 60 kg", or the dates. Where all differ and the clips share a tempo,
	// the reps of that tempo are compared between them.
	Sides []string
	// Axis is what the sides differ in; empty: nothing is known but their names.
	Axis kinematics.Axis
	// Dates are the days on which the clips were filmed, one a clip; nil: all on one.
	// What differs from day to day widens the intervals between clips of two days.
	Dates []string
}

// sideKeys are the keys of the conditions where clips are compared with each other.
var sideKeys = [...]string{"first", "second", "third"}

// ByTempo says whether it is tempos that were compared, not clips.
func (c *Comparison) ByTempo() bool { return len(c.Sides) == 0 }

// Conditions returns what was compared, the easiest first: tempos, or the sides.
func (c *Comparison) Conditions() []kinematics.Condition {
	var out []kinematics.Condition
	for i, s := range c.Sides {
		out = append(out, kinematics.Condition{Key: s.Key, Axis: cmp.Or(c.Axis, kinematics.AxisClip),
			Rank: i + 1, Words: s.Words})
	}
	if len(out) > 0 {
		return out
	}
	for _, t := range events.Tempos {
		if slices.ContainsFunc(c.Pairs, func(p kinematics.Pair) bool {
			return p.Baseline == t.String() || p.Challenge == t.String()
		}) {
			out = append(out, called(kinematics.ConditionOf(t)))
		}
	}
	return out
}

// called returns a condition with what it is called.
func called(c kinematics.Condition) kinematics.Condition {
	c.Words = words.Or("condition."+c.Key, c.Key)
	return c
}

// LacksZero says whether an angle of a pair is not counted from the athlete's own standing.
func (c *Comparison) LacksZero(p *kinematics.Pair) bool {
	return slices.ContainsFunc(body.FromGround(c.Joints), func(j body.Joint) bool {
		return !p.Joints[j].BaselineZeroKnown || !p.Joints[j].ChallengeZeroKnown
	})
}

// Condition returns the condition that a key of the comparison's pairs and rungs stands
// for; where it stands for none, one without a rank.
func (c *Comparison) Condition(key string) kinematics.Condition {
	for _, known := range c.Conditions() {
		if known.Key == key {
			return known
		}
	}
	if t := events.ParseTempo(key); t != events.TempoUnknown {
		return called(kinematics.ConditionOf(t))
	}
	return kinematics.Condition{Key: key, Words: key}
}

// ConditionOf returns the condition of a clip's reps of a tempo; ok is false where those
// reps were not compared.
func (c *Comparison) ConditionOf(clip int, tempo events.Tempo) (of kinematics.Condition, ok bool) {
	if c.ByTempo() {
		of = c.Condition(string(tempo))
		return of, of.Rank > 0
	}
	for i, s := range c.Sides {
		if s.Clip == clip && tempo == s.Tempo {
			return c.Conditions()[i], true
		}
	}
	return kinematics.Condition{}, false
}

// Word returns what the condition of a key is called.
func (c *Comparison) Word(key string) string { return c.Condition(key).Words }

// Compare finds what was lost between tempos in one or more analyses, given in
// order of difficulty. Tempos are those of the reps; where all reps of several
// clips are of one tempo, or the options name sides, the clips are compared with each
// other instead, the first as the baseline.
//
// Clips of different people, legs or movements are set side by side, and nothing is said of one against the
// other: Withheld says why.
//
// It returns an error that wraps ErrCannotMeasure when there are no two tempos to compare, ErrDifferentMovement when
// the retest shows another movement, and ErrDifferentNetworks when the clips were not all measured with one network
// and one calibration of it; ErrDifferentViews when only some are filmed from the front; ErrNoReps where a clip fits no
// movement.
func Compare(analyses []*Analysis, opt CompareOptions) (*Comparison, error) {
	if opt.SmallestChangeDeg <= 0 {
		opt.SmallestChangeDeg = kinematics.DefaultSmallestChangeDeg
	}
	c := &Comparison{
		Schema: ComparisonSchema, Program: Program, SmallestChangeDeg: opt.SmallestChangeDeg,
		Clips: []ClipRef{}, Warnings: []Warning{}, Analyses: analyses,
	}
	for _, a := range analyses {
		c.Clips = append(c.Clips, *refTo(a))
		if c.Athlete == "" {
			c.Athlete = a.Athlete
		}
		c.heed(a)
	}
	measured := analyses
	if opt.Retest != nil {
		measured = append(slices.Clone(analyses), opt.Retest)
	}
	if err := errors.Join(withoutReps(measured), differentViews(measured), differentNetworks(measured)); err != nil {
		return nil, err
	}
	groups := groupByTempo(analyses)
	shared, share := sharedTurn(analyses)
	if c.Sides = sidesOf(analyses, groups, opt.Sides); share {
		c.Sides, opt.Axis = sidesOfMovements(analyses, opt.Sides), kinematics.AxisClip
	}
	if n := len(c.Sides); n < 2 || n > len(sideKeys) {
		c.Sides = nil
	} else {
		groups, c.Axis, c.Tempo = nil, opt.Axis, string(commonTempo(analyses))
		for i := range c.Sides {
			c.Sides[i].Key, c.Sides[i].Clip = sideKeys[i], i
		}
		for i, condition := range c.Conditions() {
			g := groupOf(analyses, i, c.Sides[i].Tempo)
			g.Condition = condition
			if groups = append(groups, g); landings(g.Reps) {
				c.Tempo = ""
			}
		}
	}
	if len(groups) < 2 {
		only := append(groups, kinematics.Group{Condition: kinematics.Condition{Key: "none"}})[0]
		return nil, &refusal{ErrOneTempo, notice.List("saw_one_tempo", notice.Params{"form": only.Condition.Key})}
	}
	if !c.ByTempo() {
		c.Warnings = append(c.Warnings, c.sideBySide(groups))
	}
	share = share && !c.ByTempo()
	c.Withheld = notComparable(analyses, groups, share)
	c.Warnings = append(c.Warnings, differentZeros(analyses, groups)...)
	c.dated(groups, opt.Dates)
	how := kinematics.CompareOptions{
		Movement: analyses[groups[0].Clip].Shows().compared(), SmallestChangeDeg: opt.SmallestChangeDeg,
		SupportBandPct: analyses[groups[len(groups)-1].Clip].SupportBandPct,
	}
	if share {
		how.Movement, how.TurnOnly = shared, true
		c.Warnings = append(c.Warnings, notice.New("turn_only", notice.Params{"turn": shared.Turn.Called}))
	}
	if opt.Retest != nil {
		mdc, err := retestMDC(analyses, opt.Retest, groups[0], c.ByTempo())
		if err != nil {
			return nil, err
		}
		how.MDC95Deg, c.MDC95Deg = mdc, &mdc
		c.heed(opt.Retest)
		c.Retest = refTo(opt.Retest)
	}
	var err error
	if c.Comparison, err = kinematics.CompareGroups(groups, how); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrCannotMeasure, err)
	}
	if c.Withheld != nil {
		c.Withhold()
	}
	c.Conclude()
	return c, nil
}

// dated tells the reps of each group on which day they were filmed; nil: all on one.
func (c *Comparison) dated(groups []kinematics.Group, dates []string) {
	if len(dates) != len(c.Clips) {
		return
	}
	for _, g := range groups {
		for i := range g.Reps {
			g.Reps[i].Occasion = dates[g.Clip]
		}
	}
	if days := slices.Compact(slices.Sorted(slices.Values(dates))); len(days) > 1 {
		c.Warnings = append(c.Warnings, notice.New("different_days", nil))
	}
}

// Conclude makes the headlines of what was compared.
func (c *Comparison) Conclude() {
	c.Headlines = []headline.Headline{}
	if !c.FromFront() {
		c.Headlines = headline.Of(&c.Comparison, c.Withheld)
	}
}

// Unnamed is the athlete of clips of whom no name was given.
const Unnamed = "unnamed"

// notComparable says why nothing is said of one group against another: they are of different people, legs or
// movements, unless these share the turn that is compared; nil where they are not.
func notComparable(analyses []*Analysis, groups []kinematics.Group, shareTurn bool) *Warning {
	by := func(key func(*Analysis) string) map[string]string {
		clips := map[string]string{}
		for _, g := range groups {
			a := analyses[g.Clip]
			clips[key(a)] = a.Clip.Name
		}
		delete(clips, "")
		delete(clips, Unnamed)
		return clips
	}
	because := func(code, one, other string) *Warning {
		why := notice.New(code, notice.Params{"one": one, "other": other})
		return &why
	}
	if people := slices.Sorted(maps.Keys(by(func(a *Analysis) string { return a.Athlete }))); len(people) > 1 {
		return because("why_people", people[0], people[1])
	}
	legs := by(func(a *Analysis) string {
		if a.View.Front {
			return "" // it shows both
		}
		return a.NearSide
	})
	if left, right := legs["left"], legs["right"]; left != "" && right != "" {
		return because("why_legs", left, right)
	}
	if shareTurn {
		return nil
	}
	if shown := by(func(a *Analysis) string { return a.Shows().Key }); len(shown) > 1 {
		keys := slices.Sorted(maps.Keys(shown))
		return because("why_movements", shown[keys[0]], shown[keys[1]])
	}
	if a, b, differ := differentMovement(groups); differ {
		return because("why_movements", analyses[a].Clip.Name, analyses[b].Clip.Name)
	}
	return nil
}

// heed takes over the warnings of a clip.
func (c *Comparison) heed(a *Analysis) {
	for _, w := range a.Warnings {
		w.Clip = a.Clip.Name
		c.Warnings = append(c.Warnings, w)
	}
}

func refTo(a *Analysis) *ClipRef {
	return &ClipRef{Name: a.Clip.Name, Path: a.Clip.Path, SHA256: a.Clip.SHA256, Setting: a.Setting}
}

// sideBySide says that the clips are compared with each other.
func (c *Comparison) sideBySide(groups []kinematics.Group) Warning {
	code := "own_tempo"
	switch {
	case c.Tempo != "":
		code = "one_tempo"
	case !slices.ContainsFunc(groups, func(g kinematics.Group) bool { return !landings(g.Reps) }):
		code = "landings_compared"
	}
	return notice.New(code, notice.Params{"tempo": c.Tempo, "baseline": c.Sides[0].Words})
}

// landings says whether reps are drops from a box, which have no tempo.
func landings(reps []kinematics.Rep) bool {
	return slices.ContainsFunc(reps, func(r kinematics.Rep) bool { return r.Drop != nil })
}

// sidesOf returns what clips of one movement are called where they are compared with each other, in a tempo of all; nil
// when tempos are to be compared. names are the caller's; nil: those of the boxes dropped from, or of the files.
func sidesOf(analyses []*Analysis, groups []kinematics.Group, names []string) (sides []Side) {
	if len(names) == 0 {
		names = setting.Boxes(len(analyses), func(i int) []kinematics.Rep { return wholeOf(analyses[i], events.TempoSlow) })
	}
	given := len(names) == len(analyses) && setting.AllDiffer(names)
	tempo := commonTempo(analyses)
	if tempo == events.TempoUnknown || !given && len(groups) != 1 {
		return nil
	}
	if !given {
		names = setting.ClipNames(len(analyses), func(i int) string { return analyses[i].Clip.Name })
	}
	for _, name := range names {
		sides = append(sides, Side{Words: name, Tempo: tempo})
	}
	return sides
}

// sidesOfMovements returns what clips of movements that share a position are compared as, in a tempo of all or each in
// its own: they are called by their movements and, where one is shown by several, by names or by their files.
func sidesOfMovements(analyses []*Analysis, names []string) (sides []Side) {
	common := commonTempo(analyses)
	var called []string
	for _, a := range analyses {
		t := common
		for _, g := range WholeByTempo(a) {
			if common == events.TempoUnknown && len(g.Reps) > len(wholeOf(a, t)) {
				t = g.Reps[0].Tempo
			}
		}
		if t == events.TempoUnknown {
			return nil
		}
		name := movements.Name(a.Shows().Key)
		if common == events.TempoUnknown && !landings(wholeOf(a, t)) {
			name = words.Say("condition.of_movement", words.Params{"tempo": words.Or("tempo."+t.String(), ""), "movement": name})
		}
		sides, called = append(sides, Side{Words: name, Tempo: t}), append(called, name)
	}
	if setting.AllDiffer(called) {
		return sides
	}
	if len(names) != len(sides) {
		names = setting.ClipNames(len(analyses), func(i int) string { return analyses[i].Clip.Name })
	}
	for i := range sides {
		sides[i].Words += ", " + names[i]
	}
	return sides
}

// commonTempo returns, of the tempos that all clips hold, the one of which the poorest has most reps; unknown: none.
func commonTempo(analyses []*Analysis) events.Tempo {
	best, most := events.TempoUnknown, 0
	for _, t := range events.Tempos {
		fewest := math.MaxInt
		for _, a := range analyses {
			fewest = min(fewest, len(wholeOf(a, t)))
		}
		if fewest > most {
			best, most = t, fewest
		}
	}
	return best
}

// SidesBySetting says what clips differ in by what their analyses tell of load and setting, as [CompareOptions] take
// it; nil: in nothing.
func SidesBySetting(analyses []*Analysis) ([]string, kinematics.Axis) {
	var sets []setting.Set
	for _, a := range analyses {
		set := setting.Set{LoadKg: a.LoadKg, Loaded: a.LoadKg > 0}
		if a.Setting != nil {
			set.Setting = *a.Setting
		}
		set.State = setting.StateOf(&a.LoadKg, set.Setting)
		sets = append(sets, set)
	}
	sides, axis, _ := setting.Sides(sets)
	return sides, axis
}

// WholeByTempo returns the whole reps of a clip, each once, by tempo.
func WholeByTempo(a *Analysis) []kinematics.Group {
	var reps []kinematics.Rep
	for _, r := range a.Reps {
		if r.Counts() {
			reps = append(reps, r)
		}
	}
	return kinematics.ByTempo(reps)
}

// wholeOf returns the whole reps of a tempo.
func wholeOf(a *Analysis, t events.Tempo) []kinematics.Rep {
	for _, g := range WholeByTempo(a) {
		if g.Condition == kinematics.ConditionOf(t) {
			return g.Reps
		}
	}
	return nil
}

// groupOf returns the whole reps of a tempo in one of the clips, with what is compared of it.
func groupOf(analyses []*Analysis, clip int, t events.Tempo) kinematics.Group {
	a := analyses[clip]
	g := kinematics.Group{Condition: kinematics.ConditionOf(t), Reps: wholeOf(a, t), Clip: clip, Angles: &a.Series.Angles}
	for i := range a.Sets {
		if a.Sets[i].Tempo == t {
			g.Positions = a.Sets[i].Positions
		}
	}
	return g
}

// retestMDC returns the smallest detectable change in degrees from the reps of the
// easiest condition and those of the same test filmed again: of the same tempo, or where
// clips of one tempo are compared with each other, of that or else of the easiest that was
// filmed.
func retestMDC(analyses []*Analysis, retest *Analysis, first kinematics.Group, byTempo bool) (
	mdc body.ByJoint[float64], err error) {
	name := retest.Clip.Name
	if sum := retest.Clip.SHA256; sum != "" && sum == analyses[first.Clip].Clip.SHA256 {
		return mdc, fmt.Errorf("%w: the retest %s is the baseline's own clip: film the test a second time",
			ErrCannotMeasure, name)
	}
	tempo := first.Reps[0].Tempo
	second := kinematics.Group{Reps: wholeOf(retest, tempo), Clip: len(analyses)}
	if all := WholeByTempo(retest); !byTempo && len(second.Reps) == 0 && len(all) > 0 {
		second.Reps = all[0].Reps
	}
	if len(second.Reps) == 0 {
		return mdc, fmt.Errorf("%w: the retest %s holds no whole %s rep, as the baseline does", ErrCannotMeasure, name, tempo)
	}
	if _, _, differ := differentMovement([]kinematics.Group{first, second}); differ {
		return mdc, fmt.Errorf("%w: the retest %s and %s bend the joints in quite different proportions",
			ErrDifferentMovement, name, analyses[first.Clip].Clip.Name)
	}
	if mdc, err = kinematics.RetestMDC(first.Reps, second.Reps); err != nil {
		return mdc, fmt.Errorf("%w: the retest %s and the baseline have fewer than two whole reps each: %w",
			ErrCannotMeasure, name, err)
	}
	return mdc, nil
}

// groupByTempo sorts the whole reps by tempo, the easiest first. A tempo that several clips
// hold is taken from the clip with most reps of it, as angles are best compared within a
// view.
func groupByTempo(analyses []*Analysis) []kinematics.Group {
	var groups []kinematics.Group
	for _, t := range events.Tempos {
		var most kinematics.Group
		for i := range analyses {
			if g := groupOf(analyses, i, t); len(g.Reps) > len(most.Reps) {
				most = g
			}
		}
		if len(most.Reps) > 0 {
			groups = append(groups, most)
		}
	}
	return groups
}

// differentMovement says whether two of the clips bend ankle, knee and hip in
// quite different proportions, and which.
func differentMovement(groups []kinematics.Group) (a, b int, differ bool) {
	for i, p := range groups {
		for _, q := range groups[i+1:] {
			if p.Clip != q.Clip && joints.DifferentShares(kinematics.MeanROM(p.Reps), kinematics.MeanROM(q.Reps)) {
				return p.Clip, q.Clip, true
			}
		}
	}
	return 0, 0, false
}

// differentZeros warns where some of the clips that are compared show standing and others none.
func differentZeros(analyses []*Analysis, groups []kinematics.Group) []Warning {
	var with, without string
	for _, g := range groups {
		a := analyses[g.Clip]
		if a.Series.StandFound {
			with = cmp.Or(with, a.Clip.Name)
		} else {
			without = cmp.Or(without, a.Clip.Name)
		}
	}
	if with == "" || without == "" {
		return nil
	}
	return notice.List("different_zeros", notice.Params{"with": with, "without": without})
}

// TypicalReps returns the most typical whole reps of a clip, one a tempo, from the
// easiest on.
func TypicalReps(a *Analysis) []*kinematics.Rep {
	var out []*kinematics.Rep
	for _, g := range WholeByTempo(a) {
		number := g.Reps[kinematics.TypicalRep(g.Reps)].Number
		out = append(out, &a.Reps[slices.IndexFunc(a.Reps, func(r kinematics.Rep) bool { return r.Number == number })])
	}
	return out
}

// analysisFile is the name of the analysis in its folder.
const analysisFile = "analysis.json"

// LoadAnalysis reads an analysis from its JSON file or from its folder.
func LoadAnalysis(path string) (*Analysis, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("reading an analysis: %w", err)
	}
	if info.IsDir() {
		path = filepath.Join(path, analysisFile)
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("reading an analysis: the folder %s holds none", filepath.Dir(path))
	}
	if err != nil {
		return nil, fmt.Errorf("reading an analysis: %w", err)
	}
	a, err := parseAnalysis(data)
	if err != nil {
		return nil, fmt.Errorf("reading the analysis %s: %w", path, err)
	}
	return a, nil
}

func parseAnalysis(data []byte) (*Analysis, error) {
	var a Analysis
	if err := json.Unmarshal(data, &a); err != nil {
		return nil, fmt.Errorf("it is no analysis: %w", err)
	}
	if a.Schema != AnalysisSchema && !slices.Contains(earlierAnalysisSchemas, a.Schema) {
		return nil, fmt.Errorf("its schema is %q, want %q", a.Schema, AnalysisSchema)
	}
	for _, j := range body.LegJoints {
		if len(a.Series.AnglesDeg[j.Angle()]) != len(a.Series.TimeS) {
			return nil, errors.New("its series have different lengths")
		}
	}
	for _, r := range a.Reps {
		if !slices.Contains(events.Tempos[:], r.Tempo) {
			return nil, fmt.Errorf("rep %d has the tempo %q", r.Number, r.Tempo)
		}
	}
	return &a, nil
}
