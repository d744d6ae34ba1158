package said

import (
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/movements"
	"holdfast/screening"
	"holdfast/screening/plain"
	"holdfast/words"
)

// PlainAnswer says of a clip without reps what it does not show, and how it is measured then.
func PlainAnswer(a *screening.Analysis) string {
	form := "found"
	if len(a.Plain.Why) == 0 {
		form = "asked"
	}
	var why []notice.Params
	for _, n := range a.Plain.Why {
		why = append(why, n.Plain())
	}
	return words.Say("plain.answer", words.Params{"form": form, "why": why})
}

// PlainTable returns how far each joint goes in a clip without reps; nil of any other.
func PlainTable(a *screening.Analysis) *FrontTable {
	p := a.Plain
	if p == nil {
		return nil
	}
	form := "whole"
	if p.Marked {
		form = "part"
	}
	say := func(key string) string { return words.Say("plain."+key, nil) }
	t := &FrontTable{
		Title: words.Say("plain.title", words.Params{"form": form, "from_s": p.FromS, "to_s": p.ToS}),
		Head:  []string{say("joint"), say("smallest"), say("largest"), say("rom")}, Rows: [][]string{}, Notes: []string{},
	}
	zero := true
	for _, angle := range plain.Shown {
		r := &p.Angles[angle]
		name := words.Say("limb."+angle.String(), nil)
		if !r.Known() {
			t.Rows = append(t.Rows, []string{name, Say("not_measured"), "", ""})
			continue
		}
		zero = zero && r.ZeroKnown
		t.Rows = append(t.Rows, []string{name, plainCell(r.MinDeg, r.MinInterval95Deg, r.ZeroKnown),
			plainCell(r.MaxDeg, r.MaxInterval95Deg, r.ZeroKnown), plainCell(r.ROMDeg, r.ROMInterval95Deg, true)})
	}
	if !zero {
		t.Notes = append(t.Notes, NoZero())
	}
	t.Notes = append(t.Notes, say("careful"))
	if len(p.Why) > 0 {
		t.Notes = append(t.Notes, words.Say("plain.for_reps", words.Params{"film": notice.New("film_one_of",
			notice.Params{"movements": movements.Known().Keys()}).Plain()}))
	}
	return t
}

// plainCell writes an angle with its interval: "112° (106 to 118)".
func plainCell(deg float64, interval95 [2]float64, zeroKnown bool) string {
	return BottomDegrees(deg, zeroKnown) + " (" + Interval(interval95[0], interval95[1]) + ")"
}

// PlainJoint returns what the joint of an angle is called in the documents.
func PlainJoint(a body.Angle) string {
	for j := range body.NumJoints {
		if j.Angle() == a {
			return j.String()
		}
	}
	return "trunk"
}
