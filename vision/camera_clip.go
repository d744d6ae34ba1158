package vision

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// cameraGlance is what the first pass sees of the camera: how far each of its
// pictures lies from the first, in pixels of the clip.
type cameraGlance struct {
	looks, known int
	movesPx      []float64
	longerPx     float64
}

// look compares one picture of the first pass with the earlier ones.
func (g *cameraGlance) look(c *camera, frame *Frame, people []Detection) error {
	k := frame.ScalePx
	figures := make([]figure, 0, len(people))
	for _, d := range people {
		figures = append(figures, figureOf(d.Hip[0]*k, d.Hip[1]*k, d.SizePx()*k))
	}
	s, err := c.step(frame.Mat, k, figures)
	if err != nil {
		return err
	}
	w, h := float64(frame.Mat.Cols())*k, float64(frame.Mat.Rows())*k
	g.longerPx = math.Max(w, h)
	g.looks++
	if s.Known {
		g.known++
		g.movesPx = append(g.movesPx, s.movesPx(w, h))
	}
	return nil
}

// told says whether the background was good enough to say whether the camera
// moved.
func (g *cameraGlance) told() bool { return g.known >= 3 && 2*g.known >= g.looks }

// stood says whether the camera stood still for certain: but for a few odd
// pictures it is where it was.
func (g *cameraGlance) stood() bool { return g.told() && stoodStill(g.movesPx, g.longerPx, stillPart) }

func stoodStill(movesPx []float64, longerPx, part float64) bool {
	return quantile(movesPx, 0.9) < part*longerPx
}

// background looks at what lies behind the athlete while a clip is tracked: where
// the camera is in each frame, unless it stands still, and where up is.
type background struct {
	clip   *Clip
	who    *athlete
	stands bool            // the first pass saw that the camera stands still
	camera map[int]*camera // by scene; empty where it stands still
	plumb  *plumb
	every  int // frames from one look for the vertical to the next
	looks  int
}

func newBackground(clip *Clip, who *athlete) *background {
	return &background{clip: clip, who: who, stands: who.camera.stood(), camera: map[int]*camera{}, plumb: newPlumb(),
		every: max(1, len(clip.TimesS)/plumbLooks)}
}

// Close frees the memory; not before run has ended.
func (b *background) Close() error {
	err := b.plumb.Close()
	for _, c := range b.camera {
		err = errors.Join(err, c.Close())
	}
	return err
}

// run passes on the frames of in with the place of the camera, until in or the
// context ends. It closes out.
func (b *background) run(ctx context.Context, in <-chan decoded, out chan<- decoded) {
	defer close(out)
	for d := range in {
		if d.err == nil {
			if err := b.step(&d); err != nil {
				d.err = &ClipError{Path: b.clip.Path, Doing: fmt.Sprintf("looking at the background at %.2f s", d.frame.TimeS), Err: err}
			}
		}
		select {
		case out <- d:
		case <-ctx.Done():
			d.close()
			return
		}
	}
}

func (b *background) step(d *decoded) error {
	if d.frame.Damaged {
		return nil // where the camera was is not known
	}
	plumb := d.frame.Index%b.every == b.every/2
	if b.stands && !plumb {
		return nil
	}
	figures := b.who.figures(d.frame.TimeS)
	if !b.stands {
		// Nothing leads from one scene to another.
		if b.camera[d.scene] == nil {
			b.camera[d.scene] = newCamera()
		}
		var err error
		if d.camera, err = b.camera[d.scene].step(d.frame.Mat, d.frame.ScalePx, figures); err != nil {
			return err
		}
		// A picture whose place is not known says nothing of the first one.
		plumb = plumb && d.camera.Known
	}
	if !plumb {
		return nil
	}
	b.looks++
	return b.plumb.look(d.frame.Mat, d.frame.ScalePx, figures, d.camera.AngleDeg)
}

// longestBlindS is the longest time in seconds over which the camera's way is
// filled in where the background did not tell.
const longestBlindS = 0.15

// finish writes what was seen into the track.
func (b *background) finish(t *Track) {
	t.RollDeg, t.RollSDDeg, t.RollSource = math.NaN(), math.NaN(), ""
	if roll, sd, ok := b.plumb.roll(b.looks); ok {
		t.RollDeg, t.RollSDDeg, t.RollSource = roll, sd, RollLines
	}
	if t.CameraKnown = b.stands; t.CameraKnown {
		return
	}
	bridgeCamera(t.Poses)
	w, h := float64(b.clip.WidthPx), float64(b.clip.HeightPx)
	var moves []float64
	for i := range t.Poses {
		if c := &t.Poses[i].Camera; c.Known {
			moves = append(moves, c.movesPx(w, h))
		}
	}
	// Where more is guessed than seen, none of it is better.
	t.CameraKnown = 2*len(moves) >= len(t.Poses)
	t.CameraMoved = t.CameraKnown && !stoodStill(moves, math.Max(w, h), noiseOnlyPart)
	if t.CameraMoved {
		t.CameraMotionPx = quantile(moves, 1)
		return
	}
	for i := range t.Poses {
		t.Poses[i].Camera = Similarity{}
	}
}

// bridgeCamera fills in the camera's place in short stretches in which it is not
// known, from the frames on both sides.
func bridgeCamera(poses []Pose) {
	for i := 0; i < len(poses); i++ {
		if poses[i].Camera.Known {
			continue
		}
		j := i
		for j < len(poses) && !poses[j].Camera.Known {
			j++
		}
		if i > 0 && j < len(poses) && poses[i-1].Scene == poses[j].Scene && poses[j].TimeS-poses[i-1].TimeS <= longestBlindS {
			a, b := &poses[i-1], &poses[j]
			for k := i; k < j; k++ {
				part := (poses[k].TimeS - a.TimeS) / (b.TimeS - a.TimeS)
				poses[k].Camera = a.Camera.Toward(b.Camera, part)
				poses[k].Camera.Known = true
			}
		}
		i = j
	}
}

// Toward returns the map that lies a part of the way from s to t, which differ
// little; it is known when both are.
func (s Similarity) Toward(t Similarity, part float64) Similarity {
	mix := func(a, b float64) float64 { return a + part*(b-a) }
	return Similarity{
		Scale: mix(s.Scale, t.Scale), AngleDeg: s.AngleDeg + part*math.Remainder(t.AngleDeg-s.AngleDeg, 360),
		DXPx: mix(s.DXPx, t.DXPx), DYPx: mix(s.DYPx, t.DYPx), Known: s.Known && t.Known, Inliers: min(s.Inliers, t.Inliers), RMSPx: math.Max(s.RMSPx, t.RMSPx),
	}
}

// figures returns what the people of the first pass cover at a time.
func (a *athlete) figures(timeS float64) []figure {
	var out []figure
	for _, path := range a.paths {
		if s, away := (&athlete{seen: path}).at(timeS); away < 0.4 {
			out = append(out, figureOf(s.x, s.y, s.size))
		}
	}
	return out
}
