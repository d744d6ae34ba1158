package motion

import (
	"math"

	"holdfast/vision/paint"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// Heads says where the athlete's head is all through the clip: by the smoothed points
// of the analysis, and by the track where there is one. What either covers counts.
func (m *Motion) Heads(t *pose.Track) *paint.Heads {
	w, h := m.Analysis.Clip.WidthPx, m.Analysis.Clip.HeightPx
	samples := make([]paint.HeadSample, 0, len(m.TimesS))
	for _, timeS := range m.TimesS {
		s := paint.HeadSample{TimeS: timeS * m.Slowdown}
		if !math.IsNaN(timeS) {
			for _, p := range []struct {
				name string
				to   *[]plane.XY
			}{{"ear", &s.Ears}, {"shoulder", &s.Shoulders}, {"hip", &s.Hips}} {
				if q := m.Point(p.name, timeS); !q.Missing() {
					*p.to = append(*p.to, q)
				}
			}
			s.Unsure = m.Filled(timeS)
		}
		samples = append(samples, s)
	}
	heads := paint.NewHeads(samples, w, h)
	if t != nil && len(t.Poses) > 0 {
		return t.Heads(w, h).Join(heads)
	}
	return heads
}
