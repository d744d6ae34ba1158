package kinematics

import (
	"errors"
	"slices"

	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/events"
	"holdfast/kinematics/frontal"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/trace"
)

// ErrNotFromFront: the front shows none of the movements that are looked for; callers branch on it with errors.Is.
var ErrNotFromFront = errors.New("the front does not show the movement")

// AnalyzeFront is [Analyze] of a clip filmed from the front: the reps are found by the height of the hips, what the
// front shows of each is [Rep.Front], and all that only the side shows is not known. It returns ErrNotFromFront where
// none of the movements is one that [movement.FromFront] knows, frontal.ErrTurns where some reps show another side.
func AnalyzeFront(obs []trace.Observation, opt Options) (*Series, []Rep, []Notice, error) {
	among := movement.FromFront(opt.Movements)
	if len(among) == 0 {
		return nil, nil, nil, ErrNotFromFront
	}
	f, s, notices, err := follow(obs, &opt, among)
	if err != nil {
		return s, nil, notices, err
	}
	tr, network, inAir := f.tr, opt.Calibration.OrAssumed(), f.tr.Within(f.flights)
	if frontal.Turns(tr, inAir, f.times, network.ViewSDDeg) {
		return s, nil, notices, frontal.ErrTurns
	}
	var byHand correct.Samples
	byHand, s.Corrected = f.hands.OnSamples(f.frames, tr)
	s.Motion = joints.Smooth(tr, tr.Within(s.Stand.Spans), inAir, joints.Smoothing{
		By: body.SmootherFilter, CutoffHz: joints.CutoffFor(tr, events.HardestTempo(f.times, opt.Tempo)),
		Network: &network, Zero: f.zero, Before: f.before, ByHand: &byHand})
	s.LeaveOutAngles()
	reps := make([]Rep, len(f.times))
	standing := frontal.ZeroOf(&s.Points, f.zero)
	for i := range reps {
		r := &reps[i]
		r.RepTimes, r.Angles, r.TimeSDS = f.times[i], joints.NotMeasured(), events.UnknownSDs()
		r.Quality = frontal.QualityOf(tr, f.course, f.frames, r.RepTimes, &s.Motion, network.Confidence, opt.SeveralPeople)
		r.Front = frontal.Read(tr, &s.Points, standing, &r.RepTimes)
	}
	notices = slices.DeleteFunc(notices, func(n Notice) bool { return slices.Contains(ofSide, n.Code) })
	if notices = slices.Concat(notices, repNotices(reps, tr.RateHz), betweenNotices(reps)); !s.ZeroFound {
		notices = append(notices, notice.New("no_stand_from_front", nil))
	}
	if len(reps) == 0 {
		return s, nil, notices, ErrNoReps
	}
	return s, reps, notices, nil
}

// ofSide are the notices that matter only from the side. How sure the network was of one leg is no word on two: the
// grade of a rep is that of the leg that is seen worse.
var ofSide = []string{noticeFacingUnsure, noticeTrunkHidden, NoticeNoFeet, noticeNoStand, noticeLowConfidence}

// FromFront says whether reps are those of a clip filmed from the front.
func FromFront(reps []Rep) bool {
	return slices.ContainsFunc(reps, func(r Rep) bool { return r.Front != nil })
}

// FrontsOf returns what the front shows of reps.
func FrontsOf(reps []Rep) (out []*frontal.Rep) {
	for i := range reps {
		out = append(out, reps[i].Front)
	}
	return out
}
