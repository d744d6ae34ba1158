package camera

import (
	"context"
	"errors"
	"math"

	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
	"holdfast/words"
)

func stoodStill(movesPx []float64, longerPx, part float64) bool {
	return plane.Quantile(movesPx, 0.9) < part*longerPx
}

// Background looks at what lies behind the athlete while a clip is tracked: where
// the camera is in each frame, unless it stands still, and where up is.
type Background struct {
	clip   *media.Clip
	people func(timeS float64) []Figure
	stands bool            // the first pass saw that the camera stands still
	near   float64         // pixels of the clip that it stays within by the first pass; 0: not told, or it goes farther
	camera map[int]*camera // by scene; empty where it stands still
	plumb  *plumb
	every  int // frames from one look for the vertical to the next
	looks  int
}

// NewBackground returns one for a clip; seen is what the first pass saw of the camera, people
// tells what people cover at a time.
func NewBackground(clip *media.Clip, seen *Glance, people func(timeS float64) []Figure) *Background {
	return &Background{clip: clip, people: people, stands: seen.stood(), near: seen.within(),
		camera: map[int]*camera{}, plumb: newPlumb(), every: max(1, len(clip.TimesS)/plumbLooks)}
}

// Close frees the memory; not before run has ended.
func (b *Background) Close() error {
	err := b.plumb.Close()
	for _, c := range b.camera {
		err = errors.Join(err, c.Close())
	}
	return err
}

// Run passes on the frames of in with the place of the camera, until in or the
// context ends. It closes out.
func (b *Background) Run(ctx context.Context, in <-chan Placed, out chan<- Placed) {
	defer close(out)
	for d := range in {
		if d.Err == nil {
			if err := b.step(&d); err != nil {
				d.Err = &media.ClipError{Path: b.clip.Path, Doing: words.Say("error.doing_background_at",
					words.Params{"at_s": d.Frame.TimeS}), Err: err}
			}
		}
		select {
		case out <- d:
		case <-ctx.Done():
			d.Close()
			return
		}
	}
}

func (b *Background) step(d *Placed) error {
	if d.Frame.Damaged {
		return nil // where the camera was is not known
	}
	plumb := d.Frame.Index%b.every == b.every/2
	if b.stands && !plumb {
		return nil
	}
	figures := b.people(d.Frame.TimeS)
	if !b.stands {
		// Nothing leads from one scene to another.
		if b.camera[d.Scene] == nil {
			b.camera[d.Scene] = newCamera()
		}
		var err error
		if d.Camera, err = b.camera[d.Scene].step(d.Frame.Mat, d.Frame.ScalePx, figures); err != nil {
			return err
		}
		// A picture whose place is not known says nothing of the first one.
		plumb = plumb && d.Camera.Known
	}
	if !plumb {
		return nil
	}
	b.looks++
	return b.plumb.look(d.Frame.Mat, d.Frame.ScalePx, figures, d.Camera.AngleDeg)
}

// driftTimes is by how many times the camera must seem to go farther, frame by frame, than it does in the pictures of
// the first pass, a few times a second, to be taken for one that stays where it is. Set, as nearPart, on clips of
// invented athletes in which it drifts.
const driftTimes = 3

// longestBlindS is the longest time in seconds over which the camera's way is
// filled in where the background did not tell.
const longestBlindS = 0.15

// Finish writes what was seen into the track.
func (b *Background) Finish(t *pose.Track) {
	t.RollDeg, t.RollSDDeg, t.RollSource = math.NaN(), math.NaN(), ""
	if roll, sd, ok := b.plumb.roll(b.looks); ok {
		t.RollDeg, t.RollSDDeg, t.RollSource = roll, sd, pose.RollLines
	}
	if t.CameraKnown = b.stands; t.CameraKnown {
		return
	}
	bridgeCamera(t.Poses, b.near > 0)
	w, h := float64(b.clip.WidthPx), float64(b.clip.HeightPx)
	var moves []float64
	for i := range t.Poses {
		if c := &t.Poses[i].Camera; c.Known {
			moves = append(moves, c.MovesPx(w, h))
		}
	}
	// Where more is guessed than seen, none of it is better.
	t.CameraKnown = 2*len(moves) >= len(t.Poses)
	t.CameraMoved = t.CameraKnown && !stoodStill(moves, math.Max(w, h), noiseOnlyPart)
	if b.near > 0 && plane.Quantile(moves, 0.9) > driftTimes*b.near {
		// Before a plain wall what is followed from picture to picture may drift away, by half a picture in ten seconds.
		t.CameraKnown, t.CameraMoved = true, false
	}
	if t.CameraMoved {
		t.CameraMotionPx = plane.Quantile(moves, 1)
		return
	}
	for i := range t.Poses {
		t.Poses[i].Camera = plane.Similarity{}
	}
}

// bridgeCamera fills in the camera's place in short stretches in which it is not
// known, from the frames on both sides; in all of a scene where it stays near its place.
func bridgeCamera(poses []pose.Pose, near bool) {
	for i := 0; i < len(poses); i++ {
		if poses[i].Camera.Known {
			continue
		}
		j := i
		for j < len(poses) && !poses[j].Camera.Known {
			j++
		}
		switch {
		case i > 0 && j < len(poses) && poses[i-1].Scene == poses[j].Scene &&
			(near || poses[j].TimeS-poses[i-1].TimeS <= longestBlindS):
			a, b := &poses[i-1], &poses[j]
			for k := i; k < j; k++ {
				part := (poses[k].TimeS - a.TimeS) / (b.TimeS - a.TimeS)
				poses[k].Camera = a.Camera.Toward(b.Camera, part)
				poses[k].Camera.Known = true
			}
		case near: // up to the end of a scene, or from its beginning on
			for k := i; k < j; k++ {
				if i > 0 && poses[k].Scene == poses[i-1].Scene {
					poses[k].Camera = poses[i-1].Camera
				} else if j < len(poses) && poses[k].Scene == poses[j].Scene {
					poses[k].Camera = poses[j].Camera
				}
			}
		}
		i = j
	}
}
