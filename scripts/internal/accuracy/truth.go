package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"sort"

	"gonum.org/v1/gonum/mat"

	"holdfast/kinematics/body"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/trace"
)

// truth is what the JSON beside a rendered clip says of the athlete.
type truth struct {
	HeightM float64      `json:"body_height_m"`
	Facing  string       `json:"facing"`
	Near    string       `json:"near_side"`
	BoxM    float64      `json:"box_m"`
	Camera  truthCamera  `json:"camera"`
	Frames  []truthFrame `json:"frames"`
	Reps    []truthRep   `json:"reps"`
	// What an invented athlete's clip says besides: the ranges are degrees.
	Seed     uint64             `json:"seed"`
	RateHz   any                `json:"fps"` // a number, or words where it varies
	UsualROM map[string]float64 `json:"usual_rom_deg"`
}

type truthCamera struct {
	DistanceM float64    `json:"distance_m"`
	FocalPx   float64    `json:"focal_px"`
	HeightM   float64    `json:"height_m"`
	Principal [2]float64 `json:"principal"`
	YawDeg    float64    `json:"yaw_deg"`
}

// metresPerPx is the size of a pixel in the plane of the athlete's middle.
func (c *truthCamera) metresPerPx() float64 { return c.DistanceM / c.FocalPx }

type truthFrame struct {
	TimeS float64 `json:"t"`
	// ContainerTimeS is the time written into a clip of variable rate.
	ContainerTimeS *float64           `json:"t_container"`
	Phase          string             `json:"phase"`
	Angles         map[string]float64 `json:"angles"`
	// MassUpM and MassForwardM are where the centre of mass is, HeelRiseM how far
	// the heels are up, metres. Points are pixels of both sides.
	MassUpM      float64               `json:"com_y_m"`
	MassForwardM float64               `json:"com_z_m"`
	HeelRiseM    float64               `json:"heel_rise_m"`
	Points       map[string][2]float64 `json:"points"`
}

func (f *truthFrame) shownS() float64 {
	if f.ContainerTimeS != nil {
		return *f.ContainerTimeS
	}
	return f.TimeS
}

type peak struct {
	Peak float64 `json:"peak"`
}

// truthRep is a squat (Bottom, UpStart, Peaks) or a jump (the others).
type truthRep struct {
	Start       float64         `json:"start"`
	End         float64         `json:"end"`
	Bottom      *float64        `json:"bottom"`
	UpStart     float64         `json:"up_start"`
	Peaks       map[string]peak `json:"peaks"`
	PushStart   float64         `json:"push_start"`
	LandBottom  float64         `json:"land_bottom"`
	SquatBefore map[string]peak `json:"squat_before"`
	Landing     map[string]peak `json:"landing"`
	Takeoff     *float64        `json:"takeoff"`
	Touchdown   *float64        `json:"touchdown"`
	FlightS     float64         `json:"flight_s"`
	RiseM       float64         `json:"com_rise_after_takeoff_m"`
	Steps       int             `json:"steps"`
}

// perJoint pairs each [body.Joint] with the name of its angle in the truth.
var perJoint = []struct{ name, angle string }{
	{"ankle", "ankle_dorsiflexion"}, {"knee", "knee_flexion"}, {"hip", "hip_flexion"},
}

func readTruth(path string) (*truth, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("reading the truth: %w", err)
	}
	t := &truth{}
	if err := json.Unmarshal(data, t); err != nil {
		return nil, fmt.Errorf("reading the truth in %s: %w", path, err)
	}
	if len(t.Frames) == 0 {
		return nil, fmt.Errorf("reading the truth in %s: it holds no frames", path)
	}
	return t, nil
}

// originS is the time in the truth at which the clip's own time is 0.
func (t *truth) originS() float64 { return t.Frames[0].shownS() }

// standing returns an angle of the first frame, in which the athlete stands.
func (t *truth) standing(angle string) float64 { return t.Frames[0].Angles[angle] }

// swayDeg is how far beyond its standing angle a joint gets in an athlete who only stands up.
const swayDeg = 5

// rom returns the true range of motion of a rep: the peak over standing, or over what lies more than sway beyond it,
// as in who comes up on the toes, and for a jump the larger one of the held bottom before it and the landing.
func (t *truth) rom(rep int, angle string) float64 {
	r := &t.Reps[rep]
	standing := t.standing(angle)
	if r.Bottom == nil {
		return math.Max(r.SquatBefore[angle].Peak, r.Landing[angle].Peak) - standing
	}
	lowest := standing
	for i := range t.Frames {
		if f := &t.Frames[i]; r.Start <= f.TimeS && f.TimeS <= r.End && f.Angles[angle] < standing-swayDeg {
			lowest = min(lowest, f.Angles[angle])
		}
	}
	return r.Peaks[angle].Peak - lowest
}

func (t *truth) meanROM(angle string) float64 {
	var sum float64
	for i := range t.Reps {
		sum += t.rom(i, angle)
	}
	return sum / float64(len(t.Reps))
}

// plateau returns when the bottom of a rep is held, in the clip's own time.
func (t *truth) plateau(rep int) (fromS, toS float64) {
	r := &t.Reps[rep]
	switch {
	case r.Bottom != nil:
		fromS, toS = *r.Bottom, r.UpStart
	case rep > 0:
		fromS, toS = t.Reps[rep-1].LandBottom, r.PushStart
	default:
		fromS, toS = r.PushStart, r.PushStart
		for i := range t.Frames {
			if f := &t.Frames[i]; f.Phase == "hold" {
				fromS = f.TimeS
				break
			}
		}
	}
	return fromS - t.originS(), toS - t.originS()
}

// sign is +1 when the athlete faces the right of the picture, else -1.
func (t *truth) sign() float64 {
	if t.Facing == "left" {
		return -1
	}
	return 1
}

// within returns the time about fromS..toS, in the clip's own time, in which the true
// knee is within plateauDeg of where it is in the middle of that time.
func (t *truth) within(fromS, toS float64) (softFromS, softToS float64) {
	nearest := func(atS float64) int {
		best := 0
		for i := range t.Frames {
			if math.Abs(t.Frames[i].TimeS-t.originS()-atS) < math.Abs(t.Frames[best].TimeS-t.originS()-atS) {
				best = i
			}
		}
		return best
	}
	knee := func(i int) float64 { return t.Frames[i].Angles[body.KneeFlexion.String()] }
	i, j := nearest(fromS), nearest(toS)
	level := knee((i + j) / 2)
	for i > 0 && math.Abs(knee(i-1)-level) <= plateauDeg {
		i--
	}
	for j+1 < len(t.Frames) && math.Abs(knee(j+1)-level) <= plateauDeg {
		j++
	}
	return min(fromS, t.Frames[i].TimeS-t.originS()), max(toS, t.Frames[j].TimeS-t.originS())
}

// nearest returns the frame that is shown nearest to a time of the clip.
func (t *truth) nearest(atS float64) *truthFrame {
	i := sort.Search(len(t.Frames)-1, func(i int) bool {
		return (t.Frames[i].shownS()+t.Frames[i+1].shownS())/2 > atS+t.originS()
	})
	return &t.Frames[i]
}

// heelRise returns the largest true rise of the heels in the spans, metres.
func (t *truth) heelRise(spans []trace.Span) float64 {
	best := 0.0
	for i := range t.Frames {
		at := t.Frames[i].shownS() - t.originS()
		for _, sp := range spans {
			if sp.FromS <= at && at <= sp.ToS {
				best = max(best, t.Frames[i].HeelRiseM)
			}
		}
	}
	return best
}

// calmAt says whether the athlete stands or holds still, heels down, about frame i.
func (t *truth) calmAt(i int) bool {
	for k := range t.Frames {
		f := &t.Frames[k]
		if math.Abs(f.TimeS-t.Frames[i].TimeS) <= calmS &&
			((f.Phase != "stand" && f.Phase != "hold") || f.HeelRiseM > 0.001) {
			return false
		}
	}
	return true
}

// acceleration returns that of the true centre of mass at frame i, m/s^2: parabolas
// through the frames about it, whose places are rounded to a hundredth of a millimetre.
func (t *truth) acceleration(i int) (up, forward float64) {
	var rows, ups, forwards []float64
	for k := range t.Frames {
		f := &t.Frames[k]
		if u := f.TimeS - t.Frames[i].TimeS; math.Abs(u) <= bendS+1e-6 {
			rows = append(rows, 1, u, u*u)
			ups, forwards = append(ups, f.MassUpM), append(forwards, f.MassForwardM)
		}
	}
	n := len(ups)
	if n < 3 {
		return 0, 0
	}
	m := mat.NewDense(n, 3, rows)
	bend := func(y []float64) float64 {
		var c mat.VecDense
		if err := c.SolveVec(m, mat.NewVecDense(n, y)); err != nil {
			return 0
		}
		return 2 * c.AtVec(2)
	}
	return bend(ups), bend(forwards)
}

// seriesOf returns one angle of an analysis.
func seriesOf(s *body.AngleSeries, angle string) []float64 {
	var a body.Angle
	_ = a.UnmarshalText([]byte(angle)) // has no error
	return s[a]
}

func measureOf(j *body.ByAngle[joints.AngleMeasure], joint string) joints.AngleMeasure {
	return map[string]joints.AngleMeasure{"ankle": j[body.AnkleDorsiflexion], "knee": j[body.KneeFlexion],
		"hip": j[body.HipFlexion]}[joint]
}
