package screening

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/trace"
	"holdfast/vision"
)

// noReps says of a clip that shows no rep what was seen instead, and what would help.
func noReps(path string, s *kinematics.Series, notices []kinematics.Notice, people int) error {
	if has(notices, kinematics.NoticeFeetHidden) {
		return &vision.ClipError{Path: path, Err: ErrNoReps, Hint: feetHint}
	}
	var seen, hints []string
	saw := func(what, hint string) { seen, hints = append(seen, what), append(hints, hint) }
	if what, hint := wrongView(s.View); what != "" {
		saw(what, hint)
	}
	switch {
	case s.View.From == trace.ViewSide && has(notices, kinematics.NoticeLegsApart): // else they stand side by side
		saw("the legs are apart, one foot ahead of the other, as in a lunge", "squats and jumps with the feet side by side are measured so far")
	case has(notices, kinematics.NoticeFeetMoved):
		saw("the feet travel", "squats and jumps in one place are measured so far: film them from standing to standing")
	case sunkLegs(s) < events.Squat().LeastDepthLegs:
		saw("the hips never sink", "squats and jumps are measured so far: film them from standing to standing")
	}
	if people > 1 {
		saw(fmt.Sprintf("%s people are in the picture", inWords(people)), "film with one person in the picture")
	}
	if len(seen) == 0 {
		return &vision.ClipError{Path: path, Err: ErrNoReps,
			Hint: "film the whole rep from standing to standing, side-on, with the feet in the picture"}
	}
	return &vision.ClipError{Path: path, Err: fmt.Errorf("%w: %s", ErrNoReps, strings.Join(seen, ", and ")), Hint: hints[0]}
}

// sunkLegs returns how far the hips sink below their standing height in the clip, in leg
// lengths; 0 when that is not known.
func sunkLegs(s *kinematics.Series) float64 {
	deepest := 0.0
	for _, h := range s.HipHeight {
		if d := s.Stand.HipHeight - h; d > deepest {
			deepest = d
		}
	}
	return deepest
}

// wrongView says from where a clip was filmed that cannot be measured for it, and what to
// do; both are empty for one that can.
func wrongView(v trace.View) (seen, hint string) {
	switch {
	case v.SurelyDeg() < trace.TooObliqueDeg:
		return "", ""
	case v.From != trace.ViewSide:
		return fmt.Sprintf("the athlete is filmed from %s", v.From), "set the phone up square to the athlete's side"
	}
	return fmt.Sprintf("the camera stands about %.0f degrees away from side-on", math.Abs(v.YawDeg)), "turn the phone to face the athlete's side"
}

// inWords returns a small number as a word.
func inWords(n int) string {
	if words := [...]string{2: "two", "three", "four", "five"}; n >= 2 && n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

const feetHint = "the feet are out of the picture: move back or tilt the phone down until the whole body is in it"

func has(notices []kinematics.Notice, code string) bool {
	return slices.ContainsFunc(notices, func(n kinematics.Notice) bool { return n.Code == code })
}

// refuseFeetOut refuses a clip that hides the feet so that no rep is whole: what
// is left of the angles would be misread.
func refuseFeetOut(path string, reps []kinematics.Rep, notices []kinematics.Notice) error {
	if !has(notices, kinematics.NoticeFeetHidden) {
		return nil
	}
	for _, r := range reps {
		if !r.Partial || r.LeftOut {
			return nil
		}
	}
	return &vision.ClipError{Path: path, Err: fmt.Errorf("%w: no rep shows the whole leg", ErrCannotMeasure), Hint: feetHint}
}
