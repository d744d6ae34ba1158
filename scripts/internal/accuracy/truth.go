package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"

	"holdfast/kinematics"
	"holdfast/screening"
)

// truth is what the JSON beside a rendered clip says of the athlete.
type truth struct {
	Frames []truthFrame `json:"frames"`
	Reps   []truthRep   `json:"reps"`
}

type truthFrame struct {
	TimeS float64 `json:"t"`
	// ContainerTimeS is the time written into a clip of variable rate.
	ContainerTimeS *float64           `json:"t_container"`
	Phase          string             `json:"phase"`
	Angles         map[string]float64 `json:"angles"`
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
	Bottom      *float64        `json:"bottom"`
	UpStart     float64         `json:"up_start"`
	Peaks       map[string]peak `json:"peaks"`
	PushStart   float64         `json:"push_start"`
	LandBottom  float64         `json:"land_bottom"`
	SquatBefore map[string]peak `json:"squat_before"`
	Landing     map[string]peak `json:"landing"`
}

// joints pairs each joint with the name of its angle in the truth.
var joints = []struct{ name, angle string }{
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
	if len(t.Frames) == 0 || len(t.Reps) == 0 {
		return nil, fmt.Errorf("reading the truth in %s: it holds no frames or no reps", path)
	}
	return t, nil
}

// originS is the time in the truth at which the clip's own time is 0.
func (t *truth) originS() float64 { return t.Frames[0].shownS() }

// standing returns an angle of the first frame, in which the athlete stands.
func (t *truth) standing(angle string) float64 { return t.Frames[0].Angles[angle] }

// rom returns the true range of motion of a rep: the peak over standing, and for
// a jump the larger one of the held bottom before it and the landing.
func (t *truth) rom(rep int, angle string) float64 {
	r := &t.Reps[rep]
	p := r.Peaks[angle].Peak
	if r.Bottom == nil {
		p = math.Max(r.SquatBefore[angle].Peak, r.Landing[angle].Peak)
	}
	return p - t.standing(angle)
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

// tempoOf returns the tempo that a clip's name states, after the direction that
// the second athlete faces.
func tempoOf(clip string) string {
	tempo, _, _ := strings.Cut(strings.TrimPrefix(clip, "left_"), "_")
	return tempo
}

// seriesOf returns one angle of an analysis.
func seriesOf(s *screening.AngleSeries, angle string) []screening.Number {
	switch angle {
	case kinematics.AnkleDorsiflexion.String():
		return s.AnkleDorsiflexion
	case kinematics.KneeFlexion.String():
		return s.KneeFlexion
	default:
		return s.HipFlexion
	}
}

func measureOf(j *screening.JointMeasures, joint string) screening.JointMeasure {
	return map[string]screening.JointMeasure{"ankle": j.Ankle, "knee": j.Knee, "hip": j.Hip}[joint]
}

func changeOf(j *screening.JointChanges, joint string) screening.JointChange {
	return map[string]screening.JointChange{"ankle": j.Ankle, "knee": j.Knee, "hip": j.Hip}[joint]
}
