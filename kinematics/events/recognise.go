package events

import (
	"math"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/signal"
	"holdfast/kinematics/trace"
)

// Found are the reps of one movement in a clip, and what speaks for it.
type Found struct {
	Movement *movement.Movement
	Stand    Stand
	Course   *Course
	Reps     []RepTimes
	// Moved are stretches that are no reps because the feet did not stay in place, Others those that look like reps of
	// another movement.
	Moved  []trace.Span
	Others []Other
	// SurePct is how sure the movement is, against the next one that was looked for and what nobody looks for; 100 where
	// no other was looked for.
	SurePct float64
	// Next is that one; nil: no other has a rep.
	Next *movement.Movement
	// Shaken says that the points shake so much that another movement may be meant.
	Shaken bool
}

// Find returns the reps of a movement.
func Find(tr *trace.Trace, how *movement.Movement, flights []trace.Span) *Found {
	f := &Found{Movement: how, SurePct: 100}
	f.Stand = FindStand(tr, flights)
	f.Course = CourseOf(tr, how, f.Stand)
	f.Reps, f.Moved = FindReps(tr, how, f.Course, f.Stand, flights)
	if !how.Feet.Leave && how.Feet.Stance != movement.OnHands { // who leaves the floor does another movement
		f.Reps = slices.DeleteFunc(f.Reps, func(r RepTimes) bool {
			return slices.ContainsFunc(flights, func(s trace.Span) bool { return s.FromS < r.EndS && s.ToS > r.StartS })
		})
	}
	if how.Feet.Stance == movement.Hanging { // and so does who stands
		f.Reps = slices.DeleteFunc(f.Reps, func(r RepTimes) bool { return feetStay(tr, f.Course, &r) })
	}
	if how.Feet.Always {
		f.Reps = slices.DeleteFunc(f.Reps, func(r RepTimes) bool { return !r.HasFlight() })
	}
	f.Reps, f.Others = PartOthers(tr, how, f.Reps)
	for i := range f.Reps {
		f.Reps[i].Number = i + 1
	}
	f.Stand = f.Course.restsOf(tr, how, f.Stand)
	return f
}

// weight is how much of a movement the reps show: a rep that is not whole counts half.
func (f *Found) weight() float64 {
	w := 0.0
	for i := range f.Reps {
		if w++; f.Reps[i].Partial {
			w -= 0.5
		}
	}
	return w
}

// Recognise returns the reps of that movement of several of which the clip shows most; of two as many, the first one's.
func Recognise(tr *trace.Trace, among []*movement.Movement, flights []trace.Span) *Found {
	var best *Found
	most, second := 0.0, 0.0
	var next *movement.Movement
	for _, how := range among {
		f := Find(tr, how, flights)
		switch w := f.weight(); {
		case best == nil:
			best, most = f, w
		case w > most:
			if most > 0 {
				second, next = most, best.Movement
			}
			best, most = f, w
		case w > second:
			second, next = w, how
		}
	}
	best.Next = next
	if len(among) > 1 && most > 0 {
		best.SurePct = 100 * most / (most + second + doubtReps)
		if best.Shaken = shakesLegs(tr) > steadyLegs; best.Shaken {
			best.SurePct *= shakenRight
		}
	}
	return best
}

// steadyLegs is how far, in leg lengths, points of a clip may shake for the name of a movement to be told as usual.
// Rendered and real clips shook by 0.001 to 0.009, and by 0.02 to 0.04 where every point was moved by 1 % of the
// picture; of the names of those shakenRight were right, as a knee that shakes seems to dip. Set on those clips.
const steadyLegs, shakenRight = 0.015, 2.0 / 3

// sureMovementPct is how sure a movement must be for it not to be said that it is not. Common practice, no source.
const sureMovementPct = 70

// Unsure tells of points that shake too much for a movement's name to be sure, or of a clip that shows another movement
// nearly as well.
func (f *Found) Unsure() []notice.Notice {
	switch {
	case f.Shaken:
		return notice.List("movement_shaken", notice.Params{"movement": f.Movement.Key})
	case f.SurePct < sureMovementPct && f.Next != nil:
		return notice.List("movement_unsure", notice.Params{"movement": f.Movement.Key, "other": f.Next.Key})
	}
	return nil
}

// shakesLegs is how far hip, knee and ankle of the near side mostly lie beside the straight way from the look before
// to the one after, in leg lengths; NaN of hardly any looks. Bodies keep to about that way between two looks, and what
// lies farther beside it shakes.
func shakesLegs(tr *trace.Trace) float64 {
	var looks []int
	no := func(marked []bool, i int) bool { return i >= len(marked) || !marked[i] }
	for i := range tr.TimeS {
		if no(tr.Between, i) && no(tr.Missing, i) && no(tr.Filled, i) {
			looks = append(looks, i)
		}
	}
	var beside []float64
	for n := 1; n+1 < len(looks); n++ {
		before, at, after := looks[n-1], looks[n], looks[n+1]
		part := float64(at-before) / float64(after-before)
		for _, k := range []body.Landmark{body.Hip, body.Knee, body.Ankle} {
			p := &tr.Raw[tr.NearSide][k]
			for _, way := range [][]float64{p.X, p.Y} {
				beside = append(beside, math.Abs(way[at]-way[before]-part*(way[after]-way[before]))/tr.LegPx)
			}
		}
	}
	return signal.Median(beside)
}

// doubtReps is how many reps speak for something else, whatever a clip shows: names that nothing spoke against were
// right in nine of ten clips of which most showed three reps, and had been made worse.
const doubtReps = 0.3
