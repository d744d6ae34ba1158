package said

import (
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/movements"
	"holdfast/screening"
	"holdfast/words"
)

// Say returns a text of the reports; with is its parameters, each after its name.
func Say(key string, with ...any) string {
	params := words.Params{}
	for i := 0; i+1 < len(with); i += 2 {
		params[with[i].(string)] = with[i+1]
	}
	return words.Say("report."+key, params)
}

// GradeWord returns what a grade of quality is called.
func GradeWord(g joints.Grade) string { return words.Or("grade."+string(g), string(g)) }

// PhaseWord returns what a phase or a part of a rep is called, of a movement whose turn has that name.
func PhaseWord(turn, name string) string {
	usual := words.Or("phase."+name, name)
	switch {
	case turn == "":
		return usual
	case name == string(events.PhaseBottom):
		return words.Or("turn."+turn, turn)
	}
	return words.Or("phase."+turn+"."+name, words.Or("turned."+name, usual))
}

// TempoWord returns what a tempo is called.
func TempoWord(t events.Tempo) string { return words.Or("tempo."+string(t), string(t)) }

// RepTempo returns what a rep's tempo is called, between where it is neither slow nor fast. How quick a drop is the
// height of its box says.
func RepTempo(r *kinematics.Rep) string {
	if r.Drop != nil {
		return words.Say("tempo.drop", nil)
	}
	return words.Or("tempo."+r.TempoWord(), r.TempoWord())
}

// AngleWord returns what an angle is called.
func AngleWord(a body.Angle) string { return words.Or("angle."+a.String(), a.String()) }

// Words are what is said of a position.
type Words struct {
	Name  string // in tables
	Plain string // the same for people outside of the trade
	// Scale says what its number counts, under the name: "dorsiflexion".
	Scale string
	// Less and More stand behind the number of a change, ClearlyLess and ClearlyMore alone
	// in place of the verdicts lost and gained.
	Less, More, ClearlyLess, ClearlyMore string
	Athlete                              AthleteWords
}

// AthleteWords are for the athlete, without the trade's terms: the title, how it is when
// all is well, what it does else, and the words beside the signs of both.
type AthleteWords struct{ Title, Well, Less, More, SignLess, SignMore string }

// Jumping is the form of a text about a comparison, jumps or none.
func Jumping(c *screening.Comparison) string {
	if slices.ContainsFunc(c.Conditions(), IsJump) || slices.ContainsFunc(c.Sides, func(s screening.Side) bool {
		return s.Tempo == events.TempoJump
	}) {
		return "jumps"
	}
	return "none"
}

// AthleteWordsOf returns an athlete's words for a position of a comparison: where the turn is no bottom, the legs are
// to stay as they are.
func AthleteWordsOf(c *screening.Comparison, p kinematics.Position) AthleteWords {
	w := PositionWords(p).Athlete
	if c.Turn != "" {
		w.Title = words.Or("position."+p.String()+".still_title", w.Title)
		w.Well = words.Or("position."+p.String()+".still_well", w.Well)
	}
	return w
}

// PositionWords returns what is said of a position.
func PositionWords(p kinematics.Position) Words {
	of := func(what string) string {
		return words.Or("position."+p.String()+"."+what, words.Or("position.unknown."+what, ""))
	}
	return Words{
		Name: of("name"), Plain: of("plain"), Scale: of("scale"), Less: of("less"), More: of("more"),
		ClearlyLess: of("clearly_less"), ClearlyMore: of("clearly_more"),
		Athlete: AthleteWords{of("athlete_title"), of("athlete_well"), of("athlete_less"), of("athlete_more"),
			of("athlete_sign_less"), of("athlete_sign_more")},
	}
}

// Said is what is said of a comparison, for those who show it.
type Said struct {
	// Headlines are the result, a sentence for each joint.
	Headlines []Headline `json:"headlines"`
	// Rungs are the sentences of the ladder's rungs, in order; empty where nothing is said.
	Rungs []string `json:"rungs"`
	// Caution goes with the ladder.
	Caution string `json:"caution"`
	// LandingNote says where the position of a jump is read; empty without jumps.
	LandingNote string `json:"landing_note"`
	// Times say how long the parts of the movement took in each condition; empty where nothing was timed.
	Times []string `json:"times"`
	// Joined are what the front shows of the same sets, a table for each pair of conditions; empty where nothing is.
	Joined []FrontTable `json:"joined"`
	// Front is what became of what the front shows, a table a pair; empty of clips from the side.
	Front []FrontTable `json:"front"`
}

// SaidOfAnalysis is what is said of the reps of an analysis, for those who show it.
type SaidOfAnalysis struct {
	// NotWhole says of each rep why it is not whole, in order; empty for a whole one.
	NotWhole []string `json:"not_whole"`
	// Advice is what to film next time, a sentence each.
	Advice []string `json:"advice"`
	// Settled says when a landing is over; empty without one.
	Settled string `json:"settled"`
	// Answers are the clip in a sentence for each tempo, and Means what it stands on.
	Answers []string           `json:"answers"`
	Means   []kinematics.Means `json:"means"`
	// Without says why the clip has no whole rep and what to film; empty where it has one.
	Without string `json:"without"`
	// Within says how positions go over the reps of a set, a sentence each.
	Within []string `json:"within"`
	// Front is the table of what the front shows; nil of a clip from the side.
	Front *FrontTable `json:"front"`
	// Plain is the table of how far each joint goes in a clip without reps; nil of any other.
	Plain *FrontTable `json:"plain"`
}

// NoWholeRep says that a clip has no whole rep, why, and what to film instead; empty where it has one.
func NoWholeRep(a *screening.Analysis) string {
	var why []string
	if a.Plain != nil {
		return ""
	}
	form := "no_whole_rep"
	for i := range a.Reps {
		r := &a.Reps[i]
		if !r.Partial {
			return ""
		}
		if r.PartialWhy.Code == "trimmed_inside" {
			form = "no_whole_rep_trimmed"
		}
		why = append(why, notWhole(r))
	}
	return Say(form, "why", slices.DeleteFunc(why, func(s string) bool { return s == "" }))
}

// notWhole says why a rep is not whole; empty where it is, or nobody knows.
func notWhole(r *kinematics.Rep) string {
	why := screening.Say(r.PartialWhy)
	if !r.Partial || why == "" {
		return ""
	}
	return Say("rep_not_whole_because", "rep", r.Number, "why", why)
}

// SayAnalysis returns what is said of the reps of an analysis.
func SayAnalysis(a *screening.Analysis) SaidOfAnalysis {
	s := SaidOfAnalysis{NotWhole: []string{}, Advice: []string{}, Answers: []string{}, Means: kinematics.MeansOf(a.Reps),
		Without: NoWholeRep(a), Within: Within(a), Front: FrontReps(a), Plain: PlainTable(a)}
	if a.Plain != nil {
		s.Answers = append(s.Answers, PlainAnswer(a))
	}
	for i := range s.Means {
		s.Answers = append(s.Answers, clipAnswer(a, &s.Means[i]))
	}
	for i := range a.Reps {
		r := &a.Reps[i]
		s.NotWhole = append(s.NotWhole, notWhole(r))
		if r.Landing != nil {
			s.Settled = Say("until_still", "definition", words.Say("landing.settled", nil))
		}
	}
	for _, line := range Advice(a) {
		s.Advice = append(s.Advice, Say("next_time_line", "advice", line))
	}
	return s
}

// clipAnswer says where the joints are at the bottom in the reps of a tempo, and how well the clip shows them: "3 slow
// reps: knee 115°, hip 123°, ankle 28° at the bottom. Good picture."
func clipAnswer(a *screening.Analysis, m *kinematics.Means) string {
	where, at := "bottom", &m.AtBottomDeg
	if m.Flown {
		where, at = "landed", &m.AtLandingDeg
		if m.Tempo == events.TempoJump {
			where = "landing"
		}
	}
	if m.Between {
		where += "_between"
	}
	var angles []string
	if a.View.Front {
		angles = frontAngles(a, m.Tempo)
	}
	for _, of := range a.Shows().Joints {
		j := Joint(of)
		angle := Say("not_measured")
		if e := at[j.Angle()]; e.Known() {
			angle = BottomDegrees(e.Value, m.ZeroKnown)
		}
		angles = append(angles, Say("clip_angle", "joint", j.Inside(), "deg", angle))
	}
	worst := joints.GradeGood
	for i := range a.Reps {
		r := &a.Reps[i]
		if r.Tempo != m.Tempo || !r.Counts() {
			continue
		}
		if g := r.Quality.Grade; g == joints.GradePoor || g == joints.GradeFair && worst == joints.GradeGood {
			worst = g
		}
	}
	return Say("clip_answer", "form", where, "turn", a.Movement.Turn, "n", m.Reps, "tempo", TempoWord(m.Tempo),
		"movement", movements.Name(a.Shows().Key), "angles", angles,
		"picture", words.Say("clip_picture."+string(worst), nil))
}

// SaidOf returns what is said of a comparison.
func SaidOf(c *screening.Comparison) Said {
	s := Said{Headlines: Headlines(c), Rungs: []string{}, Caution: words.Say("ladder.caution", nil),
		LandingNote: LandingNote(c), Times: append([]string{}, Times(c)...), Front: FrontPairs(c), Joined: []FrontTable{}}
	if c.Fronts != nil {
		s.Joined = FrontPairs(c.Fronts)
	}
	for i := range c.Ladder.Rungs {
		s.Rungs = append(s.Rungs, RungSentence(&c.Ladder.Rungs[i]))
	}
	return s
}
