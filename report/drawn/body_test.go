package drawn

import (
	"math"
	"testing"

	"holdfast/report/said"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
)

// TestArcEndsAtTheLimb: the wedge lies between the limb and the zero line, on the
// side that the joint bends to, for both facings.
func TestArcEndsAtTheLimb(t *testing.T) {
	for _, forward := range []float64{1, -1} {
		c, err := paint.NewCanvas(200, 200, Ground)
		if err != nil {
			t.Fatal(err)
		}
		// A knee bent by 90°: thigh level and forward, shank down.
		b := Athlete{Forward: forward, Points: map[string]plane.XY{
			"hip": {X: 100 - 60*forward, Y: 100}, "knee": {X: 100, Y: 100}, "ankle": {X: 100, Y: 160}}}
		b.Deg = [said.NumJoints]float64{said.Ankle: math.NaN(), said.Knee: 90, said.Hip: math.NaN()}
		b.Arc(c, said.Knee, 1)
		in, out := int(100+14*forward), int(100-14*forward)
		if c.At(in, 114) == Ground || c.At(out, 114) != Ground || c.At(in, 86) != Ground {
			t.Errorf("facing %v: the wedge is in the wrong quarter", forward)
		}
		_ = c.Close()
	}
}

func TestLabelsKeepApart(t *testing.T) {
	b := Athlete{Forward: 1, Joints: []said.Joint{said.Ankle, said.Knee, said.Hip}, Points: map[string]plane.XY{
		"hip": {X: 60, Y: 172}, "knee": {X: 80, Y: 180}, "ankle": {X: 70, Y: 178}}}
	box := [4]float64{0, 0, 360, 200}
	ls := b.JointLabels(func(j said.Joint) (string, string) { return j.Name() + " 104°", "9° less (6 to 12)" }, 1, box)
	if len(ls) != 3 {
		t.Fatalf("%d labels", len(ls))
	}
	for i, p := range ls {
		if p.box[0] < box[0] || p.box[1] < box[1] || p.box[2] > box[2] || p.box[3] > box[3] {
			t.Errorf("%q leaves the picture: %v", p.text, p.box)
		}
		for _, q := range ls[:i] {
			if p.box[0] < q.box[2] && q.box[0] < p.box[2] && p.box[1] < q.box[3] && q.box[1] < p.box[3] {
				t.Errorf("%q covers %q", p.text, q.text)
			}
		}
	}
}
