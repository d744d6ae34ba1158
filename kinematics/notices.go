package kinematics

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/measure"
	"holdfast/kinematics/trace"
)

// The codes of the notices; they do not change between versions.
const (
	NoticeLongGap       = "long_gap"
	noticePartialRep    = "partial_rep"
	noticeLowConfidence = "low_confidence"
	NoticeFeetHidden    = "feet_out_of_picture"
	NoticeNoFeet        = "network_without_feet"
	noticeTrunkHidden   = "trunk_out_of_picture"
	noticeNoStand       = "no_stand"
	noticeSwapped       = "sides_exchanged"
	noticeFewFrames     = "few_frames_in_the_turn"
	NoticeFeetMoved     = "feet_moved"
	NoticeLegsApart     = "legs_apart"
	noticeFlightDoubted = "flight_doubted"
	noticeFacingUnsure  = "facing_unsure"
	noticeNotSideOn     = "not_side_on"
	noticeWrongClock    = "wrong_clock"
	NoticeUncalibrated  = "not_calibrated"
	noticeDamagedRep    = "damaged_rep"
	noticeScale         = "scale_disagrees"
	NoticePointHidden   = "point_hidden"
	noticeImpossible    = "not_possible"
	noticeNeverUp       = "no_range_without_standing"
	noticeZeroDoubted   = "zero_doubted"
)

// Notice is something the reader of the numbers must know.
type Notice struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

func notice(code, format string, args ...any) []Notice {
	return []Notice{{code, fmt.Sprintf(format, args...)}}
}

func networkNotices(opt Options) []Notice {
	if opt.Calibration != (body.Calibration{}) {
		return nil
	}
	return notice(NoticeUncalibrated, "This network has not been calibrated: intervals are wide. Use one that is, or measure this one with scripts/calibrate.")
}

// sureFacingPart of the frames must agree on the facing for it to be sure. Common
// practice, no source.
const sureFacingPart = 0.8

func facingNotices(f body.Facing, sure float64) []Notice {
	if sure >= sureFacingPart {
		return nil
	}
	return notice(noticeFacingUnsure, "Which way the athlete faces was not clear (%.0f %% of the frames say %s). Say it yourself if it is wrong.", 100*sure, f)
}

func swapNotices(frames int) []Notice {
	if frames == 0 {
		return nil
	}
	return notice(noticeSwapped, "Left and right leg were exchanged in %d frames and put back.", frames)
}

// A clip in which more than lowConfidencePart of the near leg's points are doubted gets
// a notice, and so does one that hides a foot or the shoulder in more than hiddenPart
// of its frames. Common practice, no source.
const (
	lowConfidencePart = 0.1
	hiddenPart        = 0.2
)

// coverageNotices tell of long gaps, of feet that are not to be seen, and of a
// network that was not sure: points below the confidence low.
func coverageNotices(gaps []trace.Span, obs []trace.Observation, near body.Side, low float64, noFeet bool) (out []Notice) {
	note := func(code string, format string, args ...any) {
		out = append(out, notice(code, format, args...)...)
	}
	for _, g := range gaps {
		note(NoticeLongGap, "The athlete was lost from %.2f to %.2f s; nothing is reported there.", g.FromS, g.ToS)
	}
	unsure, points, noFoot, noTrunk, frames := 0, 0, 0, 0, 0
	for i := range obs {
		p := &obs[i].Points[near]
		if !slices.ContainsFunc(p[:], func(q body.Point) bool { return !q.Missing() }) {
			continue // nobody is seen: that says nothing of what hides the foot
		}
		frames++
		if p[body.Heel].Missing() || p[body.Toe].Missing() {
			noFoot++
		}
		if p[body.Shoulder].Missing() {
			noTrunk++
		}
		for _, k := range trace.LegLandmarks {
			if !p[k].Missing() {
				points++
				if p[k].Confidence < low {
					unsure++
				}
			}
		}
	}
	if float64(unsure) > lowConfidencePart*float64(points) {
		note(noticeLowConfidence, "The network was unsure of the near leg in %.0f %% of its points. Film with more light, tight clothes and the whole leg in view.", 100*float64(unsure)/float64(points))
	}
	hidden := hiddenPart * float64(frames)
	if float64(noTrunk) > hidden {
		note(noticeTrunkHidden, "The near shoulder is not to be seen in %.0f %% of the frames: the hip and the trunk cannot be measured there. Film with the whole athlete in the picture.", 100*float64(noTrunk)/float64(frames))
	}
	if noFeet {
		note(NoticeNoFeet, "This network finds no heel and no toe: the ankle is not known, and a jump may be taken for a squat. Use another network for ankles and jumps.")
	} else if float64(noFoot) > hidden {
		note(NoticeFeetHidden, "Heel or toe of the near foot is not to be seen in %.0f %% of the frames: the ankle cannot be measured there. Film with the whole foot in the picture.", 100*float64(noFoot)/float64(frames))
	}
	return out
}

// clockNotices tell of a wrong clock, and where it is right, of flights in which the
// body does not fall as it would.
func clockNotices(factor float64, flights int, doubted []trace.Span) (out []Notice) {
	if flights > 0 {
		how := fmt.Sprintf("%.1f times slower", factor)
		if factor < 1 {
			how = fmt.Sprintf("%.1f times faster", 1/factor)
		}
		return notice(noticeWrongClock, "The clip seems to play about %s than it was filmed: in the air the body does not fall as it would. Times, speeds and tempos are wrong until the rate it was filmed at is given: --capture-fps.", how)
	}
	for _, f := range doubted {
		out = append(out, notice(noticeFlightDoubted, "At %.2f s the feet seem to leave the floor, but the body does not fall as it would: not counted as a jump. If the clip is in slow motion, give the rate it was filmed at.", f.FromS)...)
	}
	return out
}

func standNotices(s events.Stand) []Notice {
	if s.Found {
		return nil
	}
	return notice(noticeNoStand, "The athlete is nowhere seen standing still and upright: angles are not set to zero in standing. Film two seconds of quiet standing first.")
}

// mostZeroDeg is how far, in degrees, an angle in standing may lie from straight before it is
// stated: a network's points lie beside the joints by less in most athletes. Common practice,
// no source.
const mostZeroDeg = 10

// zeroNotices state the angles of standing that are far from straight: they are taken for
// the athlete's zero, and he may have stood bent.
func zeroNotices(offsetDeg *body.StandAngles) []Notice {
	var bent []string
	for _, a := range []struct {
		angle body.Angle
		words string
	}{{body.KneeFlexion, "the knee"}, {body.HipFlexion, "the hip"}, {body.TrunkLean, "the trunk"}} {
		if deg := offsetDeg[a.angle]; math.Abs(deg) > mostZeroDeg {
			bent = append(bent, fmt.Sprintf("%s %.0f°", a.words, deg))
		}
	}
	if len(bent) == 0 {
		return nil
	}
	return notice(noticeZeroDoubted, "Standing next to the reps reads %s and is taken as 0°. "+
		"If the athlete did not stand upright there, angles at the bottom are off by as much. Film two seconds of upright standing first.",
		strings.Join(bent, ", "))
}

func movedNotices(moved []trace.Span) (out []Notice) {
	for _, b := range moved {
		out = append(out, notice(NoticeFeetMoved, "The movement from %.1f to %.1f s was not counted: the feet did not stay in place.", b.FromS, b.ToS)...)
	}
	return out
}

func apartNotices(apart []trace.Span) (out []Notice) {
	for _, b := range apart {
		out = append(out, notice(NoticeLegsApart, "The movement from %.1f to %.1f s was not measured: the legs are apart, one foot ahead "+
			"of the other, as in a lunge. Squats and jumps with the feet side by side are measured so far.", b.FromS, b.ToS)...)
	}
	return out
}

func viewNotices(v trace.View) []Notice {
	if v.SurelyDeg() < trace.NotSideOnDeg {
		return nil
	}
	if v.From != trace.ViewSide {
		return notice(noticeNotSideOn, "The athlete is filmed from %s: angles are read from the side. Turn the phone to face the athlete's side.", v.From)
	}
	return notice(noticeNotSideOn, "The camera does not stand square to the athlete's side: about %.0f degrees off (give or take %.0f). Angles are misread by that. Turn the phone to face the athlete's side.", math.Abs(v.YawDeg), 2*v.SDDeg)
}

// hiddenNotices tell of points that something hides, and what is not given for it.
func hiddenNotices(reps []Rep) []Notice {
	var points, numbers []string
	for i := range reps {
		r := &reps[i]
		if len(r.Hidden) == 0 || r.LeftOut {
			continue
		}
		numbers = append(numbers, fmt.Sprint(r.Number))
		for _, k := range r.Hidden {
			if !slices.Contains(points, k.String()) {
				points = append(points, k.String())
			}
		}
	}
	if len(numbers) == 0 {
		return nil
	}
	of := "rep " + numbers[0]
	if len(numbers) > 1 {
		of = fmt.Sprintf("%d of %d reps", len(numbers), len(reps))
	}
	return notice(NoticePointHidden, "Something hides the %s in %s, perhaps a plate or a person. Hidden joints are not measured. "+
		"Where the weight acts is not given either: what hides the body may be a load. Keep the near side clear, or film the other side.",
		strings.Join(points, " or "), of)
}

func repNotices(reps []Rep) (out []Notice) {
	out = hiddenNotices(reps)
	for i := range reps {
		r := &reps[i]
		if r.Damaged && !r.LeftOut {
			out = append(out, notice(noticeDamagedRep, "Rep %d is not measured: %s.", r.Number, r.PartialWhy)...)
		} else if r.Partial && len(r.Impossible) < unmeasurable && r.PartialWhy != events.LeftOutWhy {
			out = append(out, notice(noticePartialRep, "Rep %d is not whole: %s.", r.Number, r.PartialWhy)...)
		}
		if n := r.Quality.FramesInTurn; n > 0 && n < joints.MinSamplesInTurn {
			out = append(out, notice(noticeFewFrames, "Rep %d: only %d frames show its turn at the bottom; the deepest position may be missed. Film at 60 frames a second or more.", r.Number, n)...)
		}
	}
	return out
}

// repsOf returns "Rep 2" or "Reps 2, 3 and 4", and the verb that goes with it.
func repsOf(numbers []string) (which, are string) {
	n := len(numbers) - 1
	if n == 0 {
		return "Rep " + numbers[0], "is"
	}
	return "Reps " + strings.Join(numbers[:n], ", ") + " and " + numbers[n], "are"
}

// neverUpNotices tell of jumps without a range of motion.
func neverUpNotices(reps []Rep) []Notice {
	var numbers []string
	for i := range reps {
		if r := &reps[i]; r.NeverUp && !r.Damaged {
			numbers = append(numbers, strconv.Itoa(r.Number))
		}
	}
	if len(numbers) == 0 {
		return nil
	}
	which, _ := repsOf(numbers)
	return notice(noticeNeverUp, "%s: the range of motion is not measured, because the athlete jumps again without standing up in between. "+
		"Look at the positions at the bottom and in the landing, and film two seconds of standing first.", which)
}

// impossibleNotices tell of what no body can show, the reps with the same joints together.
func impossibleNotices(reps []Rep) (out []Notice) {
	type kind struct {
		joints  string
		several bool
		point   body.Landmark
	}
	var kinds []kind
	numbers := map[kind][]string{}
	for i := range reps {
		r := &reps[i]
		if len(r.Impossible) == 0 || len(r.Hidden) > 0 { // what hides the body is said already
			continue
		}
		k := kind{wordsOf(r.Impossible), len(r.Impossible) >= unmeasurable, r.HardestToSee}
		if numbers[k] == nil {
			kinds = append(kinds, k)
		}
		numbers[k] = append(numbers[k], strconv.Itoa(r.Number))
	}
	for _, k := range kinds {
		which, are := repsOf(numbers[k])
		what := fmt.Sprintf("the %s is not known", k.joints)
		if k.several {
			what = are + " not measured"
		} else {
			which += ":"
		}
		out = append(out, notice(noticeImpossible, "%s %s: the reading of the %s is more than a body can do. "+
			"The %s was hard to see: film with nothing in front of the athlete.", which, what, k.joints, k.point)...)
	}
	return out
}

func scaleNotices(disputes []measure.ScaleDispute) (out []Notice) {
	for _, d := range disputes {
		out = append(out, notice(noticeScale, "The scale from the %s and that from the %s differ by %.0f %%: check the number that was given, that the mark stands in the athlete's plane, and the clip's frame rate.", d.A, d.B, d.ApartPct)...)
	}
	return out
}
