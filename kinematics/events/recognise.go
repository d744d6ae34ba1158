package events

import (
	"slices"

	"holdfast/kinematics/movement"
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
	}
	return best
}

// doubtReps is how many reps speak for something else, whatever a clip shows: names that nothing spoke against were
// right in nine of ten clips of which most showed three reps, and had been made worse.
const doubtReps = 0.3
