package kinematics

// The bounds between slow and fast. A descent of 0.8 s or less, or a fall of the
// hips faster than 1.2 leg lengths a second (about 1 m/s), is fast: the drop
// squats that coaches film take 0.3 to 0.6 s, controlled ones 1 s and more.
// Common practice, no source.
const (
	fastDescentS     = 0.8
	fastDescentSpeed = 1.2
)

// classifyTempo returns how a rep was done: jump when the feet left the floor;
// fast when the descent was short or its fall quick; slow otherwise.
func classifyTempo(r *Rep) Tempo {
	switch {
	case r.HasFlight():
		return TempoJump
	case r.DescentS <= fastDescentS || r.PeakDescentSpeed >= fastDescentSpeed:
		return TempoFast
	default:
		return TempoSlow
	}
}

// setTempos gives each rep its tempo: the coach's for the rep, else the coach's
// for all, else the one found. A rep that was left out has the tempo it was done at.
//
// A rep that is not whole may hide its descent: it is taken to be like the whole
// ones of the clip.
func setTempos(reps []repDraft, opt Options) {
	var count [TempoJump + 1]int
	usual := TempoUnknown
	for i := range reps {
		if r := &reps[i].Rep; !r.Partial || r.PartialWhy == LeftOutWhy {
			t := classifyTempo(r)
			if count[t]++; count[t] > count[usual] {
				usual = t
			}
		}
	}
	for i := range reps {
		r := &reps[i].Rep
		r.Tempo, r.TempoGiven = classifyTempo(r), false
		if r.Partial && r.PartialWhy != LeftOutWhy && !r.HasFlight() && usual != TempoUnknown && usual != TempoJump {
			r.Tempo = usual
		}
		if opt.Tempo != TempoUnknown {
			r.Tempo, r.TempoGiven = opt.Tempo, true
		}
		if t := opt.RepTempo[r.Number]; t != TempoUnknown {
			r.Tempo, r.TempoGiven = t, true
		}
		if t := reps[i].tempoChange; t != TempoUnknown {
			r.Tempo, r.TempoGiven = t, true
		}
	}
}

// hardestTempo returns the tempo that the clip's smoothing has to carry.
func hardestTempo(reps []repDraft, opt Options) Tempo {
	t := opt.Tempo
	for i := range reps {
		t = max(t, reps[i].Tempo)
		if reps[i].HasFlight() {
			t = TempoJump
		}
	}
	return t
}
