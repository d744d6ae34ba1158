package vision

import (
	"holdfast/vision/camera"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// sight is a frame on its way through tracking.
type sight struct {
	camera.Placed
	// spot is where the scout saw the athlete, nil where it passed the frame over or saw nobody.
	spot *spot
	// began says that the athlete was found anew, ended that it was lost.
	began, ended bool
	// way is where the scout's way through the clip leads in this frame, in pixels of the scene's first picture as the
	// clip has them; nil where it knows of none. begins says that the way begins here.
	way    *Region
	begins bool
	looked bool // the frame is to be looked at
	pose   pose.Pose
}

// spot is where the athlete was at a time, in pixels of the scene's first picture as the clip has them.
type spot struct {
	timeS   float64
	region  Region
	middles []plane.XY // between left and right of the points that the pace goes by
}

// scout goes ahead with a light network and follows the athlete from frame to frame.
type scout struct {
	tracker *Tracker
	who     *athlete
	have    bool
	// last is the last look at the athlete, before the one before it; wayS is the time between the two, 0 where
	// there was none.
	last, before Region
	wayS, lastS  float64
	pace         *pace
	frameS       float64
	nextS        float64 // until when frames may be passed over
}

// step finds the athlete in the next frame.
func (f *scout) step(s *sight) error {
	if s.Cut {
		f.lost()
	}
	if s.Frame.Damaged {
		s.ended = true
		f.lost() // the athlete moves on unseen
		return nil
	}
	if f.passes(s.Frame.TimeS) {
		return nil
	}
	seen, err := f.find(s)
	if err != nil {
		return err
	}
	seen.TimeS, seen.Camera = s.Frame.TimeS, s.Camera
	middles := f.saw(&seen)
	if s.ended = !seen.Found; s.ended {
		s.pose = pose.Pose{Score: seen.Score}
		return nil
	}
	s.spot = &spot{s.Frame.TimeS, f.last, middles}
	return nil
}

// saw settles when the athlete must be looked at again, and returns where the middles were.
func (f *scout) saw(seen *pose.Pose) []plane.XY {
	if !seen.Found {
		f.lost()
		return nil
	}
	middles := f.pace.took(seen)
	f.nextS = seen.TimeS + f.pace.passS()
	return middles
}

// lost forgets where the athlete was.
func (f *scout) lost() { f.have, f.nextS = false, 0; f.pace.forget() }

// passes says whether a frame may be passed over: half a frame early counts as in time.
func (f *scout) passes(timeS float64) bool {
	return f.have && !f.tracker.opt.EveryFrame && timeS < f.nextS-f.frameS/4
}

// ahead returns the region in which the athlete must be by now.
func (f *scout) ahead(timeS float64) Region {
	r := f.last
	if f.wayS > 0 {
		part := (timeS - f.lastS) / f.wayS
		r.CX += part * (f.last.CX - f.before.CX)
		r.CY += part * (f.last.CY - f.before.CY)
	}
	return r
}

// goOn takes over where the athlete is; again says that it was followed to there.
func (f *scout) goOn(at Region, timeS float64, again bool) {
	f.wayS = 0
	if again {
		f.before, f.wayS = f.last, timeS-f.lastS
	}
	f.last, f.lastS, f.have = at, timeS, true
}

// inPicture returns a region of the scene's first picture as it lies in the frame's, in pixels of that.
func (s *sight) inPicture(r Region) Region {
	return r.moved(s.Camera.Inverse()).times(1 / s.Frame.ScalePx)
}

// inFirst is the way back.
func (s *sight) inFirst(r Region) Region { return r.times(s.Frame.ScalePx).moved(s.Camera) }

// strayed is how far from where the first pass saw the athlete's hips a region
// may lie, in parts of the body's circle, before it counts as someone else's.
const strayed = 0.25

// find looks for the athlete in a frame.
func (f *scout) find(s *sight) (pose.Pose, error) {
	frame, eye := s.Frame, f.tracker.scout
	k := frame.ScalePx
	if f.have {
		region := s.inPicture(f.ahead(frame.TimeS))
		seen, points, err := eye.see(frame.Mat, region, k)
		if err != nil {
			return seen, err
		}
		if seen.Found {
			at := eye.regionOf(points, region)
			if !f.who.elsewhere(frame.TimeS, at.CX*k, eye.bodySizePx(at)*k) {
				f.goOn(s.inFirst(at), frame.TimeS, true)
				return seen, nil
			}
		}
		f.lost()
	}
	best, ok, err := f.detect(frame)
	if err != nil || !ok {
		return pose.Pose{}, err
	}
	region := f.tracker.firstRegion(best)
	seen, points, err := eye.see(frame.Mat, region, k)
	if err != nil || !seen.Found {
		return seen, err
	}
	s.began = true
	f.goOn(s.inFirst(eye.regionOf(points, region)), frame.TimeS, false)
	return seen, nil
}

// detect finds the athlete among the people in a frame.
func (f *scout) detect(frame *media.Frame) (Detection, bool, error) {
	k := frame.ScalePx
	people, err := f.tracker.finders[0].all(frame.Mat)
	if err != nil {
		return Detection{}, false, err
	}
	best, ok := f.who.pick(frame.TimeS, people, k)
	if !ok && f.who.small {
		s, _ := f.who.at(frame.TimeS)
		close := Region{CX: s.x / k, CY: s.y / k, SizePx: closeLook * s.size / k}
		if people, err = f.tracker.finders[0].in(frame.Mat, close); err != nil {
			return Detection{}, false, err
		}
		best, ok = f.who.pick(frame.TimeS, people, k)
	}
	return best, ok, nil
}
