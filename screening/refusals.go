package screening

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strconv"

	"holdfast/kinematics"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
	"holdfast/movements"
	"holdfast/vision/media"
	"holdfast/words"
)

// refusal says why a clip is not measured: its kind, which callers branch on, what was seen
// instead, and what would help. Its text is that of the catalogue, under refusal.KIND and
// notice.CODE.
type refusal struct {
	kind error
	why  []kinematics.Notice
}

func (r *refusal) Error() string {
	if errors.Is(r.kind, ErrDifferentNetworks) {
		return words.Say("refusal.different_networks", notice.Params{"networks": paramsOf(r.why)})
	}
	kind := words.Say("refusal.no_reps", nil)
	if errors.Is(r.kind, ErrDifferentViews) {
		kind = words.Say("refusal.not_compared", nil)
	} else if errors.Is(r.kind, ErrCannotMeasure) {
		kind = words.Say("refusal.cannot_measure", nil)
	}
	if len(r.why) == 0 {
		return kind
	}
	return words.Say("refusal.because", notice.Params{"kind": kind, "why": paramsOf(r.why)})
}

// paramsOf returns notices as parameters of another.
func paramsOf(notices []kinematics.Notice) (params []notice.Params) {
	for _, n := range notices {
		params = append(params, n.Plain())
	}
	return params
}

func (r *refusal) Unwrap() error { return r.kind }

// refuse returns the error of a clip that is not measured. what helps is a code of the
// catalogue's advice, or what a movement's file says.
func refuse(path string, kind error, helps string, why ...kinematics.Notice) error {
	hint, err := words.Try("notice."+helps, nil)
	if err != nil { // a coach's own words
		hint, helps = helps, ""
	}
	return &media.ClipError{Path: path, Err: &refusal{kind, why}, Hint: hint, HintCode: helps}
}

// noReps says of a clip that shows no rep what was seen instead, and what would help.
func noReps(path string, s *kinematics.Series, given bool, notices []kinematics.Notice, people int) error {
	if has(notices, kinematics.NoticeFeetHidden) {
		return refuse(path, ErrNoReps, feetHint)
	}
	var seen []kinematics.Notice
	helps := ""
	saw := func(what kinematics.Notice, hint string) {
		seen = append(seen, what)
		helps = cmp.Or(helps, hint)
	}
	film := s.Movement.Film
	if known := movements.Known().Keys(); !given && len(known) > 1 {
		film = words.Say("notice.film_one_of", notice.Params{"movements": known})
	}
	// Of several who stand close together it is not sure whose shoulders and hips tell the view.
	standing := s.WentPart < 1
	if what, hint := wrongView(s.View); hint != "" && !(standing && people > 1) {
		saw(what, hint)
	}
	other := slices.IndexFunc(s.Movement.Unlike, func(u movement.Unlike) bool { return has(notices, u.Code) })
	switch {
	case s.View.From == trace.ViewSide && other >= 0: // else the feet stand side by side
		look := s.Movement.Unlike[other]
		saw(notice.New("saw_"+look.Code, nil), cmp.Or(look.Film, film))
	case has(notices, kinematics.NoticeFeetMoved):
		saw(notice.New("saw_feet_travel", nil), "film_in_one_place")
	case standing:
		saw(tooShort(&s.Movement.Signal, given), film)
	}
	if people > 1 {
		form := "more"
		if people <= 5 { // those that are written as a word
			form = strconv.Itoa(people)
		}
		saw(notice.New("saw_people", notice.Params{"form": form, "people": people}), "film_one_person")
	}
	return refuse(path, ErrNoReps, cmp.Or(helps, "film_whole_rep"), seen...)
}

// tooShort says what never goes as far as in a rep: what moves the movement that was asked for, or of none that was,
// anything.
func tooShort(of *movement.Signal, given bool) kinematics.Notice {
	if !given {
		return notice.New("saw_too_short", notice.Params{"form": "any"})
	}
	form, what := "falls", ""
	switch {
	case of.Kind == movement.Angle:
		form, what = "turns", of.Angle.String()
	case of.Kind == movement.Distance:
		form, what = "parts", of.Points[0].String()
	case !of.Falls:
		form = "rises"
	}
	if what == "" {
		what = of.Points[0].String()
	}
	return notice.New("saw_too_short", notice.Params{"form": form, "of": what})
}

// wrongView says from where a clip was filmed that cannot be measured for it, and what
// would help; that is empty for a clip that can.
func wrongView(v trace.View) (seen kinematics.Notice, helps string) {
	switch {
	case v.SurelyDeg() < trace.TooObliqueDeg:
		return seen, ""
	case v.From != trace.ViewSide:
		return notice.New("saw_view", notice.Params{"form": v.From.String()}), "stand_square"
	}
	return notice.New("saw_oblique", notice.Params{"yaw_deg": math.Abs(v.YawDeg)}), "turn_phone"
}

// feetHint is what helps where the feet are out of the picture.
const feetHint = "film_feet"

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
	return refuse(path, ErrCannotMeasure, feetHint, notice.New("saw_no_whole_leg", nil))
}
