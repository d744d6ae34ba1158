// Package history follows the positions of one athlete over the visits: what is there, what is lost from condition to
// condition, and whether what was lost holds now.
package history

import (
	"cmp"
	"math"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/screening"
	"holdfast/screening/losses"
)

// Schema names the layout of a history, whose number goes up when fields change.
const Schema = "holdfast/history/3"

// DatedAnalysis is the analysis of a clip with when and how it was filmed.
type DatedAnalysis struct {
	Date      string  // YYYY-MM-DD
	Condition string  // fresh, loaded or fatigued
	LoadKg    float64 // NaN: none
	Setting   string  // how else the set was done, in words; empty: nothing was said
	ClipID    string
	Analysis  *screening.Analysis
}

// History follows the positions of one athlete over the visits.
type History struct {
	Schema string `json:"schema"` // [Schema]
	// SmallestChangeDeg is the smallest change that matters, degrees; at the foot the
	// ladder's own bounds hold.
	SmallestChangeDeg float64         `json:"smallest_change_that_matters_deg"`
	Series            []HistorySeries `json:"series"`
	// Losses are what is lost at the bottom of a joint from condition to condition, visit by visit.
	Losses []losses.Series `json:"losses"`
	// Again says of positions that were lost under a condition whether they hold under it now.
	Again []losses.Again `json:"again"`
	// Warnings say what must be known when reading the series; nil: nothing.
	Warnings []screening.Warning `json:"warnings,omitempty"`
}

// HistorySeries is one position in one tempo and condition, a point a visit.
type HistorySeries struct {
	// Side is the leg near the camera, left or right: the other leg's positions are
	// another series.
	Side string `json:"side"`
	// Movement numbers the athlete's movements from 1 in the order they were first
	// filmed: clips that bend the joints in quite different proportions, a squat and a
	// hinge for instance, are not one series.
	Movement int `json:"movement"`
	// MovementKey names it, Turn is what its turn is called; empty: the bottom.
	MovementKey string  `json:"movement_key"`
	Turn        string  `json:"turn,omitempty"`
	Tempo       string  `json:"tempo"`
	Condition   string  `json:"condition"`
	LoadKg      float64 `json:"load_kg"` // null: none
	// Setting is how else the sets were done, in words; empty: nothing was said.
	Setting string `json:"setting,omitempty"`
	// Position is that of a joint with Measure rom, or one that is no angle with Measure at_bottom.
	Position kinematics.Position `json:"position"`
	Measure  string              `json:"measure"`
	Unit     kinematics.Unit     `json:"unit"`
	Points   []HistoryPoint      `json:"points"`
}

// HistoryPoint is the mean over the reps of a visit.
type HistoryPoint struct {
	Date    string         `json:"date"`
	ClipIDs []string       `json:"clip_ids"`
	Reps    int            `json:"reps"`
	Value   stats.Estimate `json:"value"`
	// SinceFirst and SincePrevious compare with those visits; null at the first.
	SinceFirst    *HistoryChange `json:"since_first"`
	SincePrevious *HistoryChange `json:"since_previous"`
}

// HistoryChange is how a position changed from an earlier visit to this one.
type HistoryChange struct {
	Since string `json:"since"` // date
	// Change is the later minus the earlier value, positive for a gain.
	Change     float64    `json:"change"`
	Interval95 [2]float64 `json:"interval95"`
	// SmallestDetectable is the smallest change that these readings can tell from
	// chance, and never less than what matters. Held means less than what matters.
	SmallestDetectable float64       `json:"smallest_detectable"`
	Verdict            stats.Verdict `json:"verdict"` // held, lost, gained or unclear
}

// filmed is a movement and how it divides itself over the joints.
type filmed struct {
	screening.Movement
	rom body.ByJoint[float64]
}

// historyKey is what must be alike for visits to be compared.
type historyKey struct {
	side      string
	movement  int
	tempo     kinematics.Condition
	condition string
	loadKg    float64
	setting   string
}

// visitReps are the reps of one tempo on one date.
type visitReps struct {
	date  string
	clips []string
	reps  [][]kinematics.Rep // by clip
	sets  []*kinematics.Set
	zero  bool // the angles are counted from standing, in all clips
}

// at returns the readings of a position in the reps of the visit.
func (v *visitReps) at(p kinematics.Position) (r stats.Readings) {
	for _, set := range v.sets {
		for _, x := range set.Positions {
			if x.Position == p {
				r.Values = append(r.Values, x.Values...)
				r.NoiseSD = math.Max(r.NoiseSD, x.NoiseSD)
			}
		}
	}
	return r
}

// Of follows every position that was measured over the visits, for each leg,
// movement, tempo and condition. Reps that are not whole are left out; clips of one
// visit are taken together.
//
// Where a visit holds two clips of one tempo, the second is a retest: what differs
// between the two is chance (see kinematics.RetestMDC), and from then on a change must
// be larger than that to be lost or gained.
//
// Clips that rest on another network or calibration than those of the last visit, and clips filmed from the front, are
// left out, and a warning says so.
func Of(dated []DatedAnalysis) History {
	h := History{Schema: Schema, SmallestChangeDeg: kinematics.DefaultSmallestChangeDeg, Series: []HistorySeries{},
		Losses: []losses.Series{}, Again: []losses.Again{}}
	by := map[historyKey][]*visitReps{}
	var movements []filmed // each movement, as first filmed
	dated = slices.Clone(dated)
	slices.SortStableFunc(dated, func(a, b DatedAnalysis) int { return cmp.Compare(a.Date, b.Date) })
	dated = slices.DeleteFunc(dated, func(d DatedAnalysis) bool { return d.Analysis == nil })
	dated, fronts := fromSide(dated)
	dated, h.Warnings = measuredAsTheLast(dated)
	h.Warnings = append(h.Warnings, fronts...)
	for _, d := range dated {
		for _, g := range screening.WholeByTempo(d.Analysis) {
			at := kinematics.MeanROM(g.Reps)
			shows := d.Analysis.Shows()
			movement := slices.IndexFunc(movements, func(m filmed) bool {
				return m.Key == shows.Key && !joints.DifferentShares(m.rom, at)
			})
			if movement < 0 {
				movement, movements = len(movements), append(movements, filmed{shows, at})
			}
			key := historyKey{d.Analysis.NearSide, movement + 1, g.Condition, d.Condition, d.LoadKg, d.Setting}
			if math.IsNaN(key.loadKg) {
				key.loadKg = 0 // NaN is no key
			}
			visits := by[key]
			if n := len(visits); n == 0 || visits[n-1].date != d.Date {
				visits = append(visits, &visitReps{date: d.Date, zero: true})
				by[key] = visits
			}
			v := visits[len(visits)-1]
			v.clips, v.reps = append(v.clips, d.ClipID), append(v.reps, g.Reps)
			v.zero = v.zero && d.Analysis.Series.StandFound
			for i := range d.Analysis.Sets {
				if kinematics.ConditionOf(d.Analysis.Sets[i].Tempo) == g.Condition {
					v.sets = append(v.sets, &d.Analysis.Sets[i])
				}
			}
		}
	}
	keys := make([]historyKey, 0, len(by))
	for k := range by {
		keys = append(keys, k)
	}
	rank := func(condition string) int { return kinematics.StateOf(condition).Rank }
	slices.SortFunc(keys, func(a, b historyKey) int {
		return cmp.Or(cmp.Compare(a.movement, b.movement), cmp.Compare(a.side, b.side),
			cmp.Compare(rank(a.condition), rank(b.condition)),
			cmp.Compare(a.loadKg, b.loadKg), cmp.Compare(a.setting, b.setting), cmp.Compare(a.tempo.Rank, b.tempo.Rank))
	})
	var of []losses.Visit
	for _, k := range keys {
		h.Series = append(h.Series, seriesOfVisits(k, movements[k.movement-1].Movement, by[k])...)
		for _, v := range by[k] {
			shows := &movements[k.movement-1].Movement
			of = append(of, losses.Visit{Date: v.date, Side: k.side, Movement: k.movement, Turn: shows.Turn,
				Positions: shows.Positions, Tempo: k.tempo, State: kinematics.StateOf(k.condition), LoadKg: k.loadKg,
				Setting: k.setting, ZeroKnown: v.zero, At: v.at})
		}
	}
	h.Losses, h.Again = losses.Of(of), losses.AgainOf(of)
	return h
}

// measuredAsTheLast keeps of analyses in the order of their dates those that rest on the network and calibration of
// the last one, and says what was left out.
func measuredAsTheLast(dated []DatedAnalysis) (kept []DatedAnalysis, left []screening.Warning) {
	var all []*screening.Analysis
	for _, d := range dated {
		all = append(all, d.Analysis)
	}
	otherwise, left := screening.MeasuredOtherwise(all)
	for i, d := range dated {
		if !otherwise[i] {
			kept = append(kept, d)
		}
	}
	return kept, left
}

// seriesOfVisits returns the series of one tempo and condition, from the ground up.
func seriesOfVisits(k historyKey, movement screening.Movement, of []*visitReps) []HistorySeries {
	var out []HistorySeries
	load := math.NaN()
	if k.loadKg > 0 {
		load = k.loadKg
	}
	add := func(p kinematics.Position, measure string, how func(v *visitReps) (stats.Readings, stats.Options)) {
		s := HistorySeries{Side: k.side, Movement: k.movement, MovementKey: movement.Key, Turn: movement.Turn,
			Tempo: k.tempo.Key, Condition: k.condition, LoadKg: load, Setting: k.setting, Position: p,
			Measure: measure, Unit: kinematics.PositionQuantity(p).Unit, Points: []HistoryPoint{}}
		var readings []stats.Readings
		for _, v := range of {
			r, opt := how(v)
			r.OccasionSD = opt.OccasionSD
			mean := r.Mean(opt)
			if !mean.Known() {
				continue
			}
			p := HistoryPoint{Date: v.date, ClipIDs: v.clips, Reps: len(r.Values), Value: mean}
			if n := len(readings); n > 0 {
				p.SinceFirst = historyChange(s.Points[0].Date, readings[0], r, opt)
				p.SincePrevious = historyChange(s.Points[n-1].Date, readings[n-1], r, opt)
			}
			readings = append(readings, r)
			s.Points = append(s.Points, p)
		}
		if len(s.Points) > 0 {
			out = append(out, s)
		}
	}
	for _, p := range movement.Positions {
		if kinematics.PositionQuantity(p).Unit == kinematics.Degrees {
			continue // of a joint, its range tells more
		}
		add(p, "at_bottom", func(v *visitReps) (stats.Readings, stats.Options) {
			return v.at(p), kinematics.CompareOptions{}.ForPosition(p)
		})
	}
	for _, j := range slices.Sorted(slices.Values(movement.Joints)) {
		var opt kinematics.CompareOptions
		add(kinematics.PositionOf(j), "rom", func(v *visitReps) (stats.Readings, stats.Options) {
			for i := 1; i < len(v.reps); i++ {
				if mdc, err := kinematics.RetestMDC(v.reps[0], v.reps[i]); err == nil && mdc[j] > opt.MDC95Deg[j] {
					opt.MDC95Deg[j] = mdc[j]
				}
			}
			return kinematics.ROMReadings(slices.Concat(v.reps...), j.Angle()), opt.ForAngle(j.Angle())
		})
	}
	return out
}

func historyChange(since string, then, now stats.Readings, opt stats.Options) *HistoryChange {
	c := stats.Compare(then, now, opt)
	half := (c.Interval95[1] - c.Interval95[0]) / 2
	return &HistoryChange{
		Since: since, Change: -c.Lost, Interval95: [2]float64{-c.Interval95[1], -c.Interval95[0]},
		SmallestDetectable: max(half, opt.SmallestChange, opt.Detectable), Verdict: c.Verdict,
	}
}

type plainHistory History

// Plain returns the history without its methods, see [screening.EncodeTold].
func (h *History) Plain() any { return (*plainHistory)(h) }

// MarshalJSON implements json.Marshaler.
func (h History) MarshalJSON() ([]byte, error) { return screening.EncodeJSON((*plainHistory)(&h)) }

// UnmarshalJSON implements json.Unmarshaler.
func (h *History) UnmarshalJSON(doc []byte) error {
	return screening.DecodeJSON(doc, (*plainHistory)(h))
}

// fromSide keeps of analyses those that were filmed from the side, and says what was left out.
func fromSide(dated []DatedAnalysis) (kept []DatedAnalysis, left []screening.Warning) {
	n := 0
	for _, d := range dated {
		if d.Analysis.View.Front {
			n++
		} else {
			kept = append(kept, d)
		}
	}
	if n == 0 {
		return kept, nil
	}
	return kept, notice.List("fronts_left_out", notice.Params{"n": n})
}
