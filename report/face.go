package report

import (
	"math"

	"holdfast/vision"
)

// heads says where the athlete's head is all through the clip: by the smoothed points
// of the analysis, and by the track where there is one. What either covers counts.
func (m *motion) heads(t *vision.Track) *vision.Heads {
	w, h := m.a.Clip.WidthPx, m.a.Clip.HeightPx
	samples := make([]vision.HeadSample, 0, len(m.t))
	for _, timeS := range m.t {
		s := vision.HeadSample{TimeS: timeS * m.slow}
		if !math.IsNaN(timeS) {
			for _, p := range []struct {
				name string
				to   *[]vision.XY
			}{{"ear", &s.Ears}, {"shoulder", &s.Shoulders}, {"hip", &s.Hips}} {
				if q := m.point(p.name, timeS); !q.Missing() {
					*p.to = append(*p.to, q)
				}
			}
			s.Unsure = m.filled(timeS)
		}
		samples = append(samples, s)
	}
	heads := vision.NewHeads(samples, w, h)
	if t != nil && len(t.Poses) > 0 {
		return t.Heads(w, h).Join(heads)
	}
	return heads
}
