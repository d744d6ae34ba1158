package vision

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/vision/decode"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// Two networks err differently, so where both see a point their mean is nearer to it. How
// far apart they may put one, in parts of the side of the second one's region, which is a
// little more than the athlete is tall: up to agreedPart the mean is taken, beyond
// disputedPart one of them has seen something else, and the leading one's point stays as it
// is. In between the second one's share falls evenly, so that no point jumps.
const agreedPart, disputedPart = 0.04, 0.08

// secondLook is a network that looks again at the points which the leading one found. It
// looks where they lie, so that it follows nobody itself.
type secondLook struct {
	net   *network
	reach *reach
	// at holds, of each of its points, the place of the same one among the leading
	// network's, and mirrored the place of the other side's.
	at, mirrored []int
}

// newSecondLook loads the network; names are the leading one's points.
func newSecondLook(name string, threads int, names []string) (*secondLook, error) {
	net, err := newNetwork(name, threads)
	if err != nil {
		return nil, err
	}
	m := &net.manifest
	places := map[string]int{}
	for i, n := range names {
		places[n] = i
	}
	s := &secondLook{net: net}
	for _, n := range m.KeypointNames() {
		at, known := places[n]
		mirrored, paired := places[otherSide(n)]
		if !known || !paired {
			err = fmt.Errorf("the network %s has no point %s", name, n)
		}
		s.at, s.mirrored = append(s.at, at), append(s.mirrored, mirrored)
	}
	if m.Decoder != models.DecoderCentred || len(s.at) != len(m.Keypoints) {
		err = errors.New("its points are not read round the middle of the body")
	}
	if err != nil {
		err = fmt.Errorf("the network %s cannot look again at what another saw: %w: %w", name, models.ErrUnknown, err)
		return nil, errors.Join(err, net.Close())
	}
	s.reach = newReach(m)
	return s, nil
}

// otherSide returns the name of the same point of the other side of the body.
func otherSide(name string) string {
	if of, ok := strings.CutPrefix(name, "left_"); ok {
		return "right_" + of
	}
	if of, ok := strings.CutPrefix(name, "right_"); ok {
		return "left_" + of
	}
	return name
}

// leastAgainS is how long it is from one of the second network's looks to the next at least, see DEVELOPERS.md.
const leastAgainS = 0.06

// joint is a track as both networks fill it: the leading one with poses, the second one with what it adds to some of
// them and, on an even way from one of these to the next, to those between.
type joint struct {
	second *secondLook
	track  *pose.Track
	gapS   float64    // from one look of the second one to the next at least
	at     int        // place of the last pose that was looked at again, -1 where the athlete was lost since
	by     []plane.XY // what was added to its points
}

// take lets the second network look at what comes into the track next, where it is time to.
func (j *joint) take(s *sight) error {
	if !j.due(s) {
		return nil
	}
	points := s.pose.Keypoints
	by := make([]plane.XY, len(points))
	for i, k := range points {
		by[i] = plane.XY{X: -k.X, Y: -k.Y}
	}
	if err := j.second.look(s.Frame.Mat, points, s.Frame.ScalePx); err != nil {
		return err
	}
	for i, k := range points {
		by[i] = by[i].Add(k.X, k.Y)
	}
	j.looked(s.Frame.TimeS, by)
	return nil
}

// due says whether the second network is to look at what comes into the track next.
func (j *joint) due(s *sight) bool {
	p := &s.pose
	if p.Passed {
		return false
	}
	if !p.Found || p.Redetected {
		j.end()
	}
	return p.Found && (j.at < 0 || s.Frame.TimeS >= j.track.Poses[j.at].TimeS+j.gapS-1e-6)
}

// looked takes in what the second network added to what comes into the track next.
func (j *joint) looked(timeS float64, by []plane.XY) {
	if j.at >= 0 {
		from := j.track.Poses[j.at].TimeS
		j.fill(func(i int, t float64) (dx, dy float64) {
			part := (t - from) / (timeS - from)
			return j.by[i].X + part*(by[i].X-j.by[i].X), j.by[i].Y + part*(by[i].Y-j.by[i].Y)
		})
	}
	j.at, j.by = len(j.track.Poses), by
}

// end says that the athlete was lost, or the clip ends: the last poses get what was added last.
func (j *joint) end() {
	if j.at >= 0 {
		j.fill(func(i int, _ float64) (dx, dy float64) { return j.by[i].X, j.by[i].Y })
	}
	j.at = -1
}

// fill adds to the poses since the last one that was looked at again.
func (j *joint) fill(by func(i int, timeS float64) (dx, dy float64)) {
	for n := j.at + 1; n < len(j.track.Poses); n++ {
		p := &j.track.Poses[n]
		for i := range p.Keypoints {
			dx, dy := by(i, p.TimeS)
			p.Keypoints[i].X, p.Keypoints[i].Y = p.Keypoints[i].X+dx, p.Keypoints[i].Y+dy
		}
	}
}

// look moves the points, in pixels of the clip of which one of the picture spans so many, to the mean of both
// networks where these agree. Which side is left is the leading network's to say.
func (s *secondLook) look(picture gocv.Mat, points []pose.Keypoint, scalePx float64) error {
	inPicture := func(k float64) {
		for i := range points {
			points[i].X, points[i].Y = points[i].X*k, points[i].Y*k
		}
	}
	inPicture(1 / scalePx)
	defer inPicture(scalePx)
	where := Region{SizePx: 1} // in which a pixel is a pixel
	led := make([]decode.Landmark, len(s.at))
	for k, i := range s.at {
		led[k] = decode.Landmark{U: points[i].X + 0.5, V: points[i].Y + 0.5, Visibility: points[i].Visibility}
	}
	region := s.reach.region(led, where)
	if err := s.net.run(picture, region); err != nil {
		return err
	}
	again := s.net.centred()
	if s.reach.seen(again) {
		s.settle(points, again, region)
	}
	return nil
}

// settle moves the points to where both networks together put them; again is what the second
// one saw in its region.
func (s *secondLook) settle(points []pose.Keypoint, again []decode.Landmark, region Region) {
	seen := make([][2]float64, len(again))
	for k, p := range again {
		seen[k][0], seen[k][1] = region.toPicture(p.U, p.V)
	}
	apart := func(k, i int) float64 { return math.Hypot(seen[k][0]-points[i].X, seen[k][1]-points[i].Y) }
	places, straight, crossed := s.at, 0.0, 0.0
	for k := range again {
		straight, crossed = straight+apart(k, s.at[k]), crossed+apart(k, s.mirrored[k])
	}
	if crossed < straight {
		places = s.mirrored
	}
	for k, i := range places {
		if again[k].Visibility < s.reach.rule.MinScore {
			continue
		}
		share := secondShare(apart(k, i) / region.SizePx)
		points[i].X += share * (seen[k][0] - points[i].X)
		points[i].Y += share * (seen[k][1] - points[i].Y)
	}
}

// secondShare returns the second network's share in a point that both put that far apart.
func secondShare(apart float64) float64 {
	return min(1, max(0, (disputedPart-apart)/(disputedPart-agreedPart))) / 2
}
