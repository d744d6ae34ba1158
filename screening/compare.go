package screening

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
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
	// Dates are the days on which the clips were filmed, one a clip; nil: all on one.
	// What differs from day to day widens the intervals between clips of two days.
	Dates []string
}

// tempoOrder lists the tempos from the easiest to the hardest.
var tempoOrder = []kinematics.Tempo{kinematics.TempoSlow, kinematics.TempoFast, kinematics.TempoJump}

// pool holds the reps of one tempo that come from one clip.
type pool struct {
	clip int
	reps []kinematics.Rep
}

// sideKeys are the keys of sides, in place of the tempos of the same place.
var sideKeys = [...]string{"first", "second", "third"}

// Word returns what a tempo or side of the comparison is called.
func (c *Comparison) Word(key string) string {
	for _, s := range c.Sides {
		if s.Key == key {
			return s.Words
		}
	}
	return key
}

// Compare finds what was lost between tempos in one or more analyses, given in
// order of difficulty. Tempos are those of the reps; where all reps of several
// clips are of one tempo, or the options name sides, the clips are compared with each
// other instead, the first as the baseline.
//
// It returns an error that wraps ErrCannotMeasure when there are no two tempos
// to compare, and ErrDifferentMovement when the clips show different movements.
func Compare(analyses []*Analysis, opt CompareOptions) (*Comparison, error) {
	if opt.SmallestChangeDeg <= 0 {
		opt.SmallestChangeDeg = kinematics.DefaultSmallestChangeDeg
	}
	c := &Comparison{
		Schema: ComparisonSchema, Program: Program, SmallestChangeDeg: opt.SmallestChangeDeg,
		Clips: []ClipRef{}, Pairs: []Pair{}, Warnings: []Warning{}, Analyses: analyses,
	}
	for _, a := range analyses {
		c.Clips = append(c.Clips, ClipRef{Name: a.Clip.Name, Path: a.Clip.Path, SHA256: a.Clip.SHA256})
		if c.Athlete == "" {
			c.Athlete = a.Athlete
		}
		for _, w := range a.Warnings {
			c.Warnings = append(c.Warnings, Warning{Code: w.Code, Message: a.Clip.Name + ": " + w.Message})
		}
	}
	measured := analyses
	if opt.Retest != nil {
		measured = append(slices.Clone(analyses), opt.Retest)
	}
	c.Warnings = append(c.Warnings, differentNetworks(measured)...)
	pools := poolReps(analyses)
	if t, words := sidesOf(analyses, pools, opt.Sides); t != kinematics.TempoUnknown {
		pools = c.setSides(analyses, t, words)
	}
	name := func(t kinematics.Tempo) string {
		if i := slices.Index(tempoOrder, t); len(c.Sides) > 0 && i >= 0 {
			return sideKeys[i]
		}
		return t.String()
	}
	if len(pools) < 2 {
		return nil, fmt.Errorf("%w: the clips hold %s reps only; give a second clip, or say which rep is which with --rep",
			ErrCannotMeasure, onlyTempo(pools))
	}
	if len(c.Sides) > 0 {
		c.Warnings = append(c.Warnings, Warning{Code: "one_tempo", Message: fmt.Sprintf("The %s reps of the clips are compared with each other; %s is the baseline.", c.Tempo, c.Sides[0].Words)})
	}
	if a, b, differ := differentMovement(pools); differ {
		return nil, fmt.Errorf("%w: %s and %s bend the joints in quite different proportions; compare clips of one movement",
			ErrDifferentMovement, analyses[a].Clip.Name, analyses[b].Clip.Name)
	}
	if left, right := clipsBySide(analyses, pools); left != "" && right != "" {
		c.Warnings = append(c.Warnings, Warning{Code: "different_sides", Message: left + " shows the left leg, " + right + " the right one: " +
			"a difference between the legs looks like a change. Film both from the same side."})
	}
	if len(opt.Dates) == len(analyses) {
		for _, p := range pools {
			for i := range p.reps {
				p.reps[i].Occasion = opt.Dates[p.clip]
			}
		}
		if days := slices.Compact(slices.Sorted(slices.Values(opt.Dates))); len(days) > 1 {
			c.Warnings = append(c.Warnings, Warning{Code: "different_days", Message: "The clips were filmed on different days: " +
				"what differs from day to day though nobody changed is in the intervals."})
		}
	}
	var reps []kinematics.Rep
	for _, p := range pools {
		reps = append(reps, p.reps...)
	}
	how := kinematics.CompareOptions{SmallestChangeDeg: opt.SmallestChangeDeg}
	if opt.Retest != nil {
		mdc, err := retestMDC(analyses, opt.Retest, pools, c.Tempo)
		if err != nil {
			return nil, err
		}
		how.MDC95Deg = mdc
		for _, w := range opt.Retest.Warnings {
			c.Warnings = append(c.Warnings, Warning{Code: w.Code, Message: opt.Retest.Clip.Name + ": " + w.Message})
		}
		c.Retest = &ClipRef{Name: opt.Retest.Clip.Name, Path: opt.Retest.Clip.Path, SHA256: opt.Retest.Clip.SHA256}
		c.MDC95Deg = &JointNumbers{
			Knee:  how.MDC95Deg[body.KneeJoint],
			Hip:   how.MDC95Deg[body.HipJoint],
			Ankle: how.MDC95Deg[body.AnkleJoint],
		}
	}
	result, err := kinematics.CompareTempos(reps, how)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrCannotMeasure, err)
	}
	for _, p := range result.Pairs {
		base, challenge := pools[p.Baseline], pools[p.Challenge]
		pair := Pair{
			Baseline: name(p.Baseline), Challenge: name(p.Challenge),
			BaselineClip: base.clip, ChallengeClip: challenge.clip,
			BaselineRep: typicalRep(base.reps), ChallengeRep: typicalRep(challenge.reps),
			Joints: JointChanges{
				Knee:  changeJSON(p.Joints[body.KneeJoint]),
				Hip:   changeJSON(p.Joints[body.HipJoint]),
				Ankle: changeJSON(p.Joints[body.AnkleJoint]),
			},
		}
		addCurves(&pair, analyses, base, challenge, how)
		c.Pairs = append(c.Pairs, pair)
	}
	c.Ladder = ladderOf(c.Analyses, pools, how, name)
	if len(c.Sides) == 0 {
		c.Landing = landingComparison(analyses, pools, how)
	} else {
		for i := range c.Ladder.Rungs { // what a fast rep or a turn points to, a load or a date does not
			c.Ladder.Rungs[i].PointsTo, c.Ladder.Rungs[i].Sentence = "", ""
		}
	}
	first := func(j body.Joint) *string {
		if result.FirstLost[j] == kinematics.TempoUnknown {
			return nil
		}
		s := name(result.FirstLost[j])
		return &s
	}
	c.FirstLost = FirstLost{Knee: first(body.KneeJoint), Hip: first(body.HipJoint), Ankle: first(body.AnkleJoint)}
	return c, nil
}

// sidesOf returns the tempo in which clips are to be compared with each other, and what
// each of them is called; TempoUnknown when it is tempos that are to be compared. sides
// are the caller's names for the clips.
func sidesOf(analyses []*Analysis, pools map[kinematics.Tempo]*pool, sides []string) (kinematics.Tempo, []string) {
	if len(analyses) < 2 || len(analyses) > len(sideKeys) {
		return kinematics.TempoUnknown, nil
	}
	given := len(sides) == len(analyses) && allDiffer(sides)
	if !given && len(pools) != 1 {
		return kinematics.TempoUnknown, nil
	}
	// Of the tempos that all clips hold, the one of which the poorest clip has most reps.
	best, most := kinematics.TempoUnknown, 0
	for _, t := range tempoOrder {
		fewest := math.MaxInt
		for _, a := range analyses {
			fewest = min(fewest, len(wholeOf(a, t)))
		}
		if fewest > most {
			best, most = t, fewest
		}
	}
	if given {
		return best, sides
	}
	words := make([]string, len(analyses))
	for i, a := range analyses {
		words[i] = strings.TrimSuffix(a.Clip.Name, filepath.Ext(a.Clip.Name))
	}
	if !allDiffer(words) {
		for i := range words {
			words[i] = sideKeys[i] + " clip"
		}
	}
	return best, words
}

func allDiffer(words []string) bool {
	for i, w := range words {
		if w == "" || slices.Contains(words[:i], w) {
			return false
		}
	}
	return true
}

// wholeOf returns the whole reps of a tempo.
func wholeOf(a *Analysis, t kinematics.Tempo) (reps []kinematics.Rep) {
	for i := range a.Reps {
		if r := repFromJSON(&a.Reps[i]); !r.Partial && r.Tempo == t {
			reps = append(reps, r)
		}
	}
	return reps
}

// setSides makes the clips the sides of the comparison and returns their reps, under
// the tempos of the same places.
func (c *Comparison) setSides(analyses []*Analysis, t kinematics.Tempo, words []string) map[kinematics.Tempo]*pool {
	pools := map[kinematics.Tempo]*pool{}
	c.Tempo, c.Analyses = t.String(), nil
	for i, a := range analyses {
		key := sideKeys[i]
		c.Sides = append(c.Sides, Side{Key: key, Words: words[i], Clip: i})
		p := &pool{i, wholeOf(a, t)}
		for k := range p.reps {
			p.reps[k].Tempo = tempoOrder[i]
		}
		pools[tempoOrder[i]] = p
		mine := *a
		mine.Reps, mine.Sets = slices.Clone(a.Reps), nil
		for k := range mine.Reps {
			if r := &mine.Reps[k]; r.Tempo == c.Tempo {
				r.Tempo = key
			} else {
				r.Partial = true
			}
		}
		for _, set := range a.Sets {
			if set.Tempo == c.Tempo {
				set.Tempo = key
				mine.Sets = append(mine.Sets, set)
			}
		}
		c.Analyses = append(c.Analyses, &mine)
	}
	return pools
}

// retestMDC returns the smallest detectable change in degrees from the reps of the
// easiest tempo and those of the same test filmed again. tempo is that of the sides;
// empty: tempos are compared.
func retestMDC(analyses []*Analysis, retest *Analysis, pools map[kinematics.Tempo]*pool, tempo string) (mdc [body.NumJoints]float64, err error) {
	var easiest kinematics.Tempo
	for _, t := range tempoOrder {
		if pools[t] != nil {
			easiest = t
			break
		}
	}
	first := pools[easiest]
	name := retest.Clip.Name
	if sum := retest.Clip.SHA256; sum != "" && sum == analyses[first.clip].Clip.SHA256 {
		return mdc, fmt.Errorf("%w: the retest %s is the baseline's own clip: film the test a second time", ErrCannotMeasure, name)
	}
	second := &pool{len(analyses), wholeOf(retest, easiest)}
	if tempo != "" { // the sides' own tempo, or that which the retest has
		for _, t := range tempoOrder {
			if reps := wholeOf(retest, t); t.String() == tempo && len(reps) > 0 || len(second.reps) == 0 {
				second.reps = reps
			}
		}
	}
	if len(second.reps) == 0 {
		return mdc, fmt.Errorf("%w: the retest %s holds no whole %s rep, as the baseline does", ErrCannotMeasure, name, cmp.Or(tempo, easiest.String()))
	}
	if _, _, differ := differentMovement(map[kinematics.Tempo]*pool{kinematics.TempoSlow: first, kinematics.TempoFast: second}); differ {
		return mdc, fmt.Errorf("%w: the retest %s and %s bend the joints in quite different proportions",
			ErrDifferentMovement, name, analyses[first.clip].Clip.Name)
	}
	if mdc, err = kinematics.RetestMDC(first.reps, second.reps); err != nil {
		return mdc, fmt.Errorf("%w: the retest %s and the baseline have fewer than two whole reps each: %w", ErrCannotMeasure, name, err)
	}
	return mdc, nil
}

func onlyTempo(pools map[kinematics.Tempo]*pool) string {
	for t := range pools {
		return t.String()
	}
	return "no whole"
}

// poolReps sorts the whole reps by tempo. A tempo that several clips hold is
// taken from the clip with most reps of it, as angles are best compared within a
// view.
func poolReps(analyses []*Analysis) map[kinematics.Tempo]*pool {
	pools := map[kinematics.Tempo]*pool{}
	for i, a := range analyses {
		for _, t := range tempoOrder {
			reps := wholeOf(a, t)
			if have := pools[t]; len(reps) > 0 && (have == nil || len(reps) > len(have.reps)) {
				pools[t] = &pool{i, reps}
			}
		}
	}
	return pools
}

// differentShareDeg is how far apart the directions of two movements in the
// space of ankle, knee and hip range may point and still be one movement. A
// squat at half depth points the same way as a full one; a hinge from the hips
// points about 30 degrees elsewhere. Common practice, no source.
const differentShareDeg = 22

// differentMovement says whether two of the clips bend ankle, knee and hip in
// quite different proportions, and which.
func differentMovement(pools map[kinematics.Tempo]*pool) (a, b int, differ bool) {
	direction := map[kinematics.Tempo][body.NumJoints]float64{}
	for t, p := range pools {
		direction[t] = meanROM(p.reps)
	}
	for i, t := range tempoOrder {
		for _, u := range tempoOrder[i+1:] {
			if pools[t] == nil || pools[u] == nil || pools[t].clip == pools[u].clip {
				continue
			}
			if differentShares(direction[t], direction[u]) {
				return pools[t].clip, pools[u].clip, true
			}
		}
	}
	return 0, 0, false
}

// clipsBySide returns the name of a clip that shows the left leg and of one that shows
// the right; empty where there is none.
func clipsBySide(analyses []*Analysis, pools map[kinematics.Tempo]*pool) (left, right string) {
	for _, t := range tempoOrder {
		if pools[t] == nil {
			continue
		}
		switch a := analyses[pools[t].clip]; a.NearSide {
		case "left":
			left = cmp.Or(left, a.Clip.Name)
		case "right":
			right = cmp.Or(right, a.Clip.Name)
		}
	}
	return left, right
}

// meanROM returns the mean range of motion of each joint over the reps, 0 where it is
// not known.
func meanROM(reps []kinematics.Rep) [body.NumJoints]float64 {
	var v [body.NumJoints]float64
	for j := range v {
		for _, r := range reps {
			if rom := r.Angles[body.Joint(j).Angle()].ROMDeg; !math.IsNaN(rom) {
				v[j] += rom / float64(len(reps))
			}
		}
	}
	return v
}

// differentShares says whether two movements divide themselves over the joints quite
// differently.
func differentShares(a, b [body.NumJoints]float64) bool {
	var dot, aa, bb float64
	for j := range body.NumJoints {
		if a[j] == 0 || b[j] == 0 {
			continue // not known in one of them
		}
		dot, aa, bb = dot+a[j]*b[j], aa+a[j]*a[j], bb+b[j]*b[j]
	}
	return aa > 0 && bb > 0 && math.Acos(math.Min(1, dot/math.Sqrt(aa*bb)))*180/math.Pi > differentShareDeg
}

// typicalRep returns the number of the most typical of some reps.
func typicalRep(reps []kinematics.Rep) int { return reps[kinematics.TypicalRep(reps)].Number }

// TypicalReps returns the most typical whole reps of a clip, one a tempo, from the
// easiest on.
func TypicalReps(a *Analysis) []*Rep {
	var out []*Rep
	for _, t := range tempoOrder {
		reps := wholeOf(a, t)
		if len(reps) == 0 {
			continue
		}
		number := typicalRep(reps)
		out = append(out, &a.Reps[slices.IndexFunc(a.Reps, func(r Rep) bool { return r.Number == number })])
	}
	return out
}

// TempoMeans are the mean ranges of motion of the whole reps of one tempo in a clip,
// degrees.
type TempoMeans struct {
	Tempo            string
	Reps             int
	Knee, Hip, Ankle kinematics.Estimate
}

// MeansByTempo returns the mean ranges of motion of a clip, one entry for each tempo of
// which it holds whole reps, from the easiest on.
func MeansByTempo(a *Analysis) []TempoMeans {
	var out []TempoMeans
	for _, t := range tempoOrder {
		reps := wholeOf(a, t)
		if len(reps) == 0 {
			continue
		}
		mean := func(j body.Joint) kinematics.Estimate {
			return kinematics.MeanROM(reps, j.Angle(), kinematics.CompareOptions{})
		}
		out = append(out, TempoMeans{t.String(), len(reps),
			mean(body.KneeJoint), mean(body.HipJoint), mean(body.AnkleJoint)})
	}
	return out
}

func changeJSON(j kinematics.JointComparison) JointChange {
	return JointChange{
		BaselineROMDeg: j.ROM.Baseline, ChallengeROMDeg: j.ROM.Challenge,
		BaselineInterval95Deg: j.BaselineROMDeg.Interval95(), ChallengeInterval95Deg: j.ChallengeROMDeg.Interval95(),
		LostDeg:       j.ROM.Lost,
		Interval95Deg: j.ROM.Interval95,
		RetainedPct:   j.ROM.RetainedPct, Verdict: string(j.ROM.Verdict),
		BaselineBottomDeg: j.Bottom.Baseline, ChallengeBottomDeg: j.Bottom.Challenge,
		BottomLostDeg:       j.Bottom.Lost,
		BottomInterval95Deg: j.Bottom.Interval95,
		BottomVerdict:       string(j.Bottom.Verdict),
		BaselineReps:        j.BaselineReps, ChallengeReps: j.ChallengeReps,
	}
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

// IsAnalysis says whether a path names an earlier analysis rather than a clip:
// a folder, or a file that ends in .json.
func IsAnalysis(path string) bool {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		_, err := os.Stat(filepath.Join(path, analysisFile))
		return err == nil
	}
	return strings.EqualFold(filepath.Ext(path), ".json")
}

func parseAnalysis(data []byte) (*Analysis, error) {
	var a Analysis
	if err := json.Unmarshal(data, &a); err != nil {
		return nil, fmt.Errorf("it is no analysis: %w", err)
	}
	if a.Schema != AnalysisSchema && a.Schema != firstAnalysisSchema {
		return nil, fmt.Errorf("its schema is %q, want %q", a.Schema, AnalysisSchema)
	}
	n := len(a.Series.TimeS)
	if len(a.Series.AnglesDeg.KneeFlexion) != n || len(a.Series.AnglesDeg.HipFlexion) != n || len(a.Series.AnglesDeg.AnkleDorsiflexion) != n {
		return nil, errors.New("its series have different lengths")
	}
	for _, r := range a.Reps {
		if parseTempo(r.Tempo) == kinematics.TempoUnknown {
			return nil, fmt.Errorf("rep %d has the tempo %q", r.Number, r.Tempo)
		}
	}
	return &a, nil
}
