package vision

import (
	"math"

	"holdfast/vision/pose"
)

// leader looks with the accurate network at the frames that the plan names. Its regions are those that it would make by
// itself if it saw every frame: between two of its looks the athlete goes the scout's way, as far beside it as the last
// look found.
type leader struct {
	eye    *eye
	smooth steady // as a stretch begins
	steady steady
	next   Region // for the next frame, in pixels of the scene's first picture as the clip has them
	beside Region // what is to be added to the scout's way
}

func newLeader(e *eye) *leader { return &leader{eye: e, smooth: newSteady(&e.net.manifest)} }

// look takes the next frame, whether it is to be looked at or not.
func (l *leader) look(s *sight) error {
	if s.way == nil {
		return nil
	}
	if s.begins {
		l.steady, l.next, l.beside = l.smooth, *s.way, Region{}
	}
	if s.looked {
		region := s.inPicture(l.next)
		seen, points, err := l.eye.see(s.Frame.Mat, region, s.Frame.ScalePx)
		if err != nil {
			return err
		}
		s.pose, l.beside = pose.Pose{Score: seen.Score}, Region{}
		if seen.Found {
			beside := s.way.to(s.inFirst(l.eye.regionOf(points, region)))
			if math.Hypot(beside.CX, beside.CY) < strayed*l.eye.bodySizePx(*s.way) { // else that is somebody else
				s.pose, l.beside = seen, beside
				s.pose.Redetected = s.began
			}
		}
	}
	l.goOn(s)
	return nil
}

// goOn settles where the next frame is to be looked at.
func (l *leader) goOn(s *sight) { l.next = l.steady.next(s.Frame.TimeS, s.way.plus(l.beside)) }

// to returns what is to be added to a region to make it another one.
func (r Region) to(o Region) Region {
	return Region{CX: o.CX - r.CX, CY: o.CY - r.CY, SizePx: o.SizePx - r.SizePx,
		AngleRad: math.Remainder(o.AngleRad-r.AngleRad, 2*math.Pi)}
}

func (r Region) plus(d Region) Region {
	return Region{CX: r.CX + d.CX, CY: r.CY + d.CY, SizePx: r.SizePx + d.SizePx,
		AngleRad: math.Remainder(r.AngleRad+d.AngleRad, 2*math.Pi)}
}
