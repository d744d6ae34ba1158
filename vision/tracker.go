package vision

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"

	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/vision/camera"
	"holdfast/vision/foot"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
	"holdfast/words"
)

// ErrNoPerson is why a clip in which nobody was found has no track.
var ErrNoPerson error = words.Error("no_person")

// DefaultModel is the network, or pair of networks, whose points are the best known.
const DefaultModel = "heavy+thunder"

// TrackerOptions choose how a clip is tracked. The zero value is the default.
type TrackerOptions struct {
	// Model is the landmark network: heavy, full or thunder, or any other whose manifest
	// lies in the models folder; or a pair of them, as in "heavy+thunder", of which the
	// first leads and the second looks again at the points that both know. Empty: DefaultModel.
	Model string
	// Threads is the number of cores the networks may use together; 0 means those of this computer, eight at
	// most. The points are the same with any number.
	Threads int
	// EveryFrame looks at each frame, also where the athlete moved so little that it could be
	// passed over.
	EveryFrame bool
	// KeepRegression leaves the regressed points as they are rather than
	// refining them by the heat map.
	KeepRegression bool
}

// Tracker finds and follows the athlete in clips. It holds native memory until
// Close, and is not safe for use by several goroutines.
type Tracker struct {
	opt       TrackerOptions
	detector  *network
	body      *network
	second    *secondLook // nil: one network is enough
	centres   [][2]float64
	keypoints []string // names of the points that are passed on
	passed    []int    // and their places in the network's output

	regionCentre, regionScale int              // points that lead to the next frame's region,
	reach                     *reach           // or a rule on all of them
	steady                    [4]oneEuro       // of the two points' x and y
	camera                    plane.Similarity // of the picture at hand, in its own pixels
}

// NewTracker loads the networks.
func NewTracker(opt TrackerOptions) (_ *Tracker, err error) {
	if opt.Model == "" {
		opt.Model = DefaultModel
	}
	if opt.Threads <= 0 {
		opt.Threads = min(8, runtime.NumCPU())
	}
	t := &Tracker{opt: opt}
	defer func() {
		if err != nil {
			err = errors.Join(err, t.Close())
		}
	}()
	if t.detector, err = newNetwork("detector", opt.Threads); err != nil {
		return nil, err
	}
	parts := models.Parts(opt.Model)
	if t.body, err = newNetwork(parts[0], opt.threadsOf(len(parts))); err != nil {
		return nil, err
	}
	if t.detector.manifest.Decoder != models.DecoderDetector ||
		len(t.detector.manifest.Keypoints) != (detectorCoords-4)/2 {
		return nil, fmt.Errorf("the network detector is no person detector with four points: %w", models.ErrCorrupt)
	}
	m := &t.body.manifest
	if m.Decoder != models.DecoderLandmarks && m.Decoder != models.DecoderCentred {
		return nil, fmt.Errorf("the network %s finds no body points: %w", parts[0], models.ErrUnknown)
	}
	in := t.detector.manifest.Input
	t.centres = t.detector.manifest.Detector.Anchors.Centres(in.Width, in.Height)
	t.keypoints = m.KeypointNames()
	for i, k := range m.Keypoints {
		if !k.Auxiliary {
			t.passed = append(t.passed, i)
		}
	}
	if len(parts) > 1 {
		if t.second, err = newSecondLook(parts[1], opt.threadsOf(len(parts)), t.keypoints); err != nil {
			return nil, err
		}
	}
	if m.Region.Reach != nil {
		t.reach = newReach(m)
	} else {
		t.regionCentre, t.regionScale = m.KeypointIndex(m.Region.Centre), m.KeypointIndex(m.Region.Scale)
	}
	return t, nil
}

// threadsOf returns how many cores each of so many networks gets that work at the same time.
func (o *TrackerOptions) threadsOf(networks int) int { return max(1, o.Threads/networks) }

// Close frees the networks.
func (t *Tracker) Close() error {
	var errs []error
	networks := []*network{t.detector, t.body}
	if t.second != nil {
		networks = append(networks, t.second.net)
	}
	for _, n := range networks {
		if n != nil {
			errs = append(errs, n.Close())
		}
	}
	return errors.Join(errs...)
}

// sum returns the sum by which the networks are known.
func (t *Tracker) sum() string {
	if t.second == nil {
		return models.SumOf(t.body.manifest.SHA256)
	}
	return models.SumOf(t.body.manifest.SHA256, t.second.net.manifest.SHA256)
}

// Detect finds the people in a picture, best first.
func (t *Tracker) Detect(picture gocv.Mat) ([]Detection, error) {
	w, h := float64(picture.Cols()), float64(picture.Rows())
	return t.detectIn(picture, Region{CX: w / 2, CY: h / 2, SizePx: math.Max(w, h)})
}

// detectIn finds the people in a square of a picture, best first.
func (t *Tracker) detectIn(picture gocv.Mat, part Region) ([]Detection, error) {
	if err := t.detector.run(picture, part); err != nil {
		return nil, err
	}
	rule := t.detector.manifest.Detector
	return decodeDetections(t.detector.output(rule.Boxes), t.detector.output(rule.Scores),
		t.centres, t.detector.manifest.Input.Width, rule, part), nil
}

// look runs the leading landmark network on a region. found says whether a person fills
// it; next is the region for the following frame.
func (t *Tracker) look(picture gocv.Mat, timeS float64, r Region, scalePx float64) (seen pose.Pose, next Region,
	err error) {
	if err := t.body.run(picture, r); err != nil {
		return seen, next, err
	}
	points, score, world := t.points()
	seen.Score = score
	if points == nil {
		return seen, next, nil
	}
	seen.Found = true
	seen.Keypoints = make([]pose.Keypoint, len(t.keypoints))
	if world != nil {
		seen.World = make([][3]float64, len(t.keypoints))
	}
	sin, cos := math.Sincos(r.AngleRad)
	for i, from := range t.passed {
		p := points[from]
		x, y := r.toPicture(p.u, p.v)
		seen.Keypoints[i] = pose.Keypoint{X: x, Y: y, Z: p.z * r.SizePx,
			Visibility: p.visibility, Presence: p.presence, SDPx: p.spread * r.SizePx}
		if world == nil {
			continue
		}
		// The network sees the body upright in its region; the turn puts it back.
		wx, wy, wz := float64(world[3*from]), float64(world[3*from+1]), float64(world[3*from+2])
		seen.World[i] = [3]float64{cos*wx - sin*wy, sin*wx + cos*wy, wz}
	}
	for i := range seen.Keypoints {
		k := &seen.Keypoints[i]
		k.X, k.Y, k.Z, k.SDPx = k.X*scalePx, k.Y*scalePx, k.Z*scalePx, k.SDPx*scalePx
	}
	if t.reach != nil {
		return seen, t.reach.region(points, r), nil
	}
	return seen, t.nextRegion(timeS, r, points[t.regionCentre], points[t.regionScale]), nil
}

// points decodes what the landmark network said of the region it was run on: its
// points, nil when nobody fills the region, the score of a person being there, and the
// metric guess of the points, nil where the network makes none.
func (t *Tracker) points() (points []landmark, score float64, world []float32) {
	m := &t.body.manifest
	if m.Centred != nil {
		points = t.body.centred()
		if !t.reach.seen(points) {
			return nil, meanVisibility(points), nil
		}
		return points, meanVisibility(points), nil
	}
	rule := m.Landmarks
	score = float64(t.body.output(rule.Presence)[0])
	if score < rule.MinPresence {
		return nil, score, nil
	}
	shape := m.Output(rule.Heatmap).Shape
	points = decodeLandmarks(t.body.output(rule.Points), t.body.output(rule.Heatmap), len(m.Keypoints),
		m.Input.Width, shape[1], shape[2], rule, !t.opt.KeepRegression)
	return points, score, t.body.output(rule.World)
}

// firstRegion returns the region to look at for a person found anew.
func (t *Tracker) firstRegion(d Detection) Region {
	r := regionFrom(d.Hip, d.Crown, t.detector.manifest.Region.ScaleFactor).headUp()
	if t.reach != nil {
		r.AngleRad = 0 // such regions are upright
	}
	return r
}

// bodySizePx returns the side of the square round the hips that holds the body, for
// comparison with [Detection.SizePx].
func (t *Tracker) bodySizePx(r Region) float64 {
	if t.reach != nil {
		return r.SizePx / t.reach.rule.BodyFactor
	}
	return r.SizePx / t.body.manifest.Region.ScaleFactor
}

// nextRegion returns the region for the following frame from the two points of
// this frame that the network gives for that purpose, smoothed as the manifest
// says: a region that trembles makes the points in it tremble.
func (t *Tracker) nextRegion(timeS float64, r Region, centre, scale landmark) Region {
	var hip, crown [2]float64
	hip[0], hip[1] = r.toPicture(centre.u, centre.v)
	crown[0], crown[1] = r.toPicture(scale.u, scale.v)
	if rule := t.body.manifest.Region.Smoothing; rule != nil {
		length := 2 * math.Hypot(crown[0]-hip[0], crown[1]-hip[1])
		// Smoothed as in the first frame's picture: a camera that moves is no
		// motion of the body.
		hip, crown = t.camera.Place(hip), t.camera.Place(crown)
		for i := range 2 {
			hip[i] = t.steady[i].next(rule, timeS, hip[i], length)
			crown[i] = t.steady[2+i].next(rule, timeS, crown[i], length)
		}
		back := t.camera.Inverse()
		hip, crown = back.Place(hip), back.Place(crown)
	}
	return regionFrom(hip, crown, t.body.manifest.Region.ScaleFactor)
}

// forget makes the next region depend on no frame before it.
func (t *Tracker) forget() { t.steady = [4]oneEuro{} }

// mostDamaged is the part of the frames that may be damaged; beyond it, what is left
// is no clip of a set any more. Common practice, no source.
const mostDamaged = 0.5

// Track follows the athlete through a clip.
//
// A first pass looks for people a few times a second and decides who the athlete
// is: the one whose hips rise and fall. The second pass follows that person from
// frame to frame and searches again where they were lost or someone else took
// their place.
//
// Where people stand on their heads or lie on their sides in all of the clip, it is
// turned, see Clip.Turn. Frames that the decoder could not read have no points.
//
// It returns a *ClipError that wraps ErrNoPerson when nobody is found, ErrUnreadable
// when more than half of the frames are damaged, and the context's error when stopped.
func (t *Tracker) Track(ctx context.Context, clip *media.Clip, progress media.Progress) (*pose.Track, error) {
	who, err := t.findAthlete(ctx, clip, progress)
	if err != nil {
		return nil, err
	}
	if who == nil {
		return nil, &media.ClipError{Path: clip.Path, Err: ErrNoPerson, Hint: words.Say("error.hint_film_whole", nil)}
	}
	frames, err := clip.FramesWithOptions(ctx, media.FrameOptions{MaxSidePx: media.TrackedSidePx, MarkDamage: true})
	if err != nil {
		return nil, err
	}
	// Decoding runs ahead by a few frames in its own process and goroutine, so
	// that the network never waits for it.
	ctx, cancel := context.WithCancel(ctx)
	ahead := make(chan camera.Placed, 3)
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer close(ahead)
		for {
			f, err := frames.Next()
			select {
			case ahead <- camera.Placed{Frame: f, Err: err}:
			case <-ctx.Done():
				if f != nil {
					f.Close()
				}
				return
			}
			if err != nil {
				return
			}
		}
	}()
	// Cuts are looked for, and the background is looked at, in goroutines of their own
	// between the decoder and the network.
	cuts := camera.NewShots()
	parted := make(chan camera.Placed)
	go cuts.Run(ctx, ahead, parted)
	back := camera.NewBackground(clip, who.camera, who.figures)
	steady := make(chan camera.Placed, 3)
	go back.Run(ctx, parted, steady)
	defer func() {
		cancel()
		_ = frames.Close()
		<-done
		for _, left := range []<-chan camera.Placed{steady, parted, ahead} {
			for d := range left {
				d.Close()
			}
		}
		_ = errors.Join(back.Close(), cuts.Close()) // native memory always closes
	}()

	track := &pose.Track{KeypointNames: t.keypoints, ModelName: t.opt.Model, ModelSHA256: t.sum(),
		PeopleSeen: who.peopleSeen,
		ListedS:    clip.ListedS, TurnedDeg: clip.TurnedDeg}
	feet := foot.NewAlbum(t.keypoints)
	f := follower{tracker: t, who: who, pace: newPace(t.keypoints), frameS: 1 / clip.FrameRateHz}
	if err := f.follow(ctx, clip, steady, track, feet, progress); err != nil {
		return nil, err
	}
	back.Finish(track)
	cuts.Finish(track)
	if err := feet.Measure(ctx, track); err != nil {
		return nil, err
	}
	if err := worthKeeping(clip, track); err != nil {
		return nil, err
	}
	return track, nil
}

// worthKeeping says why a track is of no use, nil where it is.
func worthKeeping(clip *media.Clip, track *pose.Track) error {
	found, damaged := 0, 0
	for _, p := range track.Poses {
		if p.Found {
			found++
		}
		if p.Damaged {
			damaged++
		}
	}
	if float64(damaged) > mostDamaged*float64(len(track.Poses)) {
		return &media.ClipError{Path: clip.Path, Err: words.Because(media.ErrUnreadable, "frames_damaged",
			words.Params{"damaged": damaged, "frames": len(track.Poses)}),
			Hint: words.Say("error.hint_copy_or_send", nil)}
	}
	if found == 0 {
		return &media.ClipError{Path: clip.Path, Err: ErrNoPerson, Hint: words.Say("error.hint_film_whole", nil)}
	}
	return nil
}

// follower is the state of following one athlete from frame to frame.
type follower struct {
	tracker *Tracker
	who     *athlete
	region  Region
	have    bool
	// before is the region that followed from the look before the last; wayS is the time between the two,
	// 0 where there was none.
	before      Region
	wayS, lastS float64
	pace        *pace
	frameS      float64
	nextS       float64 // until when frames may be passed over
}

// ahead returns the region to look at: where the last look put it, and as far on as it moves in the frames that
// were passed over since.
func (f *follower) ahead(timeS float64) Region {
	r := f.region
	if passedS := timeS - f.lastS - f.frameS; f.wayS > 0 && passedS > f.frameS/2 {
		r.CX += (f.region.CX - f.before.CX) / f.wayS * passedS
		r.CY += (f.region.CY - f.before.CY) / f.wayS * passedS
	}
	return r
}

// goOn takes over the region that follows from a look; again says that the athlete was followed to it.
func (f *follower) goOn(next Region, timeS float64, again bool) {
	f.wayS = 0
	if again {
		f.before, f.wayS = f.region, timeS-f.lastS
	}
	f.region, f.lastS, f.have = next, timeS, true
}

// led is a frame that the leading network has seen, or that was passed over.
type led struct {
	camera.Placed
	pose pose.Pose
}

// follow goes with the athlete through the frames, and fills the track and the album of the feet. While the
// leading network looks at a frame, the second one looks at the one before: neither waits for a core that the
// other could use.
func (f *follower) follow(ctx context.Context, clip *media.Clip, frames <-chan camera.Placed, track *pose.Track,
	feet *foot.Album, progress media.Progress) error {
	t := f.tracker
	t.forget()
	t.camera = plane.Similarity{}
	ahead, done := make(chan led, 2), make(chan error, 1)
	go func() {
		var failed error
		for l := range ahead {
			if failed == nil {
				failed = t.settle(&l, clip, track, feet)
				progress.Report("tracking", len(track.Poses), len(clip.TimesS))
			}
			l.Close()
		}
		done <- failed
	}()
	err := f.lead(ctx, clip, frames, ahead)
	close(ahead)
	return cmp.Or(err, <-done)
}

// lead runs the leading network on the frames and hands them on; what it hands on is closed by who takes it.
func (f *follower) lead(ctx context.Context, clip *media.Clip, frames <-chan camera.Placed, to chan<- led) error {
	for d := range frames {
		if errors.Is(d.Err, io.EOF) {
			break
		}
		if d.Err != nil {
			d.Close()
			return d.Err
		}
		if d.Cut {
			f.lost()
		}
		seen, err := f.step(d.Frame, d.Camera)
		if err != nil {
			d.Close()
			return trackingError(clip, d.Frame, err)
		}
		to <- led{d, seen}
	}
	return ctx.Err()
}

// settle lets the second network look at a frame, and takes the frame over into the track and the album.
func (t *Tracker) settle(l *led, clip *media.Clip, track *pose.Track, feet *foot.Album) error {
	if t.second != nil && l.pose.Found {
		if err := t.second.look(l.Frame.Mat, l.pose.Keypoints, l.Frame.ScalePx); err != nil {
			return trackingError(clip, l.Frame, err)
		}
	}
	feet.Keep(l.Frame, len(track.Poses), &l.pose)
	p := &l.pose
	p.Index, p.TimeS, p.Damaged = l.Frame.Index, l.Frame.TimeS, l.Frame.Damaged
	p.Camera, p.Cut, p.Scene = l.Camera, l.Cut, l.Scene
	track.Poses = append(track.Poses, *p)
	return nil
}

// trackingError says in which frame of a clip tracking failed.
func trackingError(clip *media.Clip, frame *media.Frame, err error) error {
	return &media.ClipError{Path: clip.Path, Doing: words.Say("error.doing_tracking_frame",
		words.Params{"frame": frame.Index, "at_s": frame.TimeS}), Err: err}
}

// lost forgets where the athlete was.
func (f *follower) lost() { f.have, f.nextS = false, 0; f.pace.forget() }

// passes says whether a frame may be passed over: half a frame early counts as in time.
func (f *follower) passes(timeS float64) bool {
	return f.have && !f.tracker.opt.EveryFrame && timeS < f.nextS-f.frameS/4
}

// saw settles when the athlete must be looked at again; seen is what was seen and where the
// camera was.
func (f *follower) saw(seen *pose.Pose, camera plane.Similarity) {
	if !seen.Found {
		f.lost()
		return
	}
	at := *seen
	at.Camera = camera
	f.pace.took(&at)
	f.nextS = seen.TimeS + f.pace.passS()
}

// moved returns the region as the map leads it to another picture.
func (r Region) moved(s plane.Similarity) Region {
	if s.Scale == 0 {
		return r
	}
	p := s.Apply(plane.XY{X: r.CX, Y: r.CY})
	return Region{CX: p.X, CY: p.Y, SizePx: r.SizePx * s.Scale,
		AngleRad: math.Remainder(r.AngleRad+s.AngleDeg*math.Pi/180, 2*math.Pi)}
}

// strayed is how far from where the first pass saw the athlete's hips a region
// may lie, in parts of the body's circle, before it counts as someone else's.
const strayed = 0.25

// step finds the athlete in the next frame; camera is the frame's place, in pixels
// of the clip.
func (f *follower) step(frame *media.Frame, camera plane.Similarity) (pose.Pose, error) {
	if frame.Damaged {
		f.lost() // the athlete moves on unseen
		return pose.Pose{}, nil
	}
	if f.passes(frame.TimeS) {
		return pose.Pose{Passed: true}, nil
	}
	seen, err := f.find(frame, camera)
	if err == nil {
		seen.TimeS = frame.TimeS
		f.saw(&seen, camera)
	}
	return seen, err
}

// find looks for the athlete in a frame.
func (f *follower) find(frame *media.Frame, camera plane.Similarity) (pose.Pose, error) {
	k := frame.ScalePx
	camera.DXPx, camera.DYPx = camera.DXPx/k, camera.DYPx/k
	// The body stays where it is while the camera moves on.
	moved := f.tracker.camera.Then(camera.Inverse())
	f.region, f.before = f.region.moved(moved), f.before.moved(moved)
	f.tracker.camera = camera
	if f.have {
		seen, next, err := f.tracker.look(frame.Mat, frame.TimeS, f.ahead(frame.TimeS), k)
		if err != nil {
			return seen, err
		}
		if seen.Found && !f.who.elsewhere(frame.TimeS, next.CX*k, f.tracker.bodySizePx(next)*k) {
			f.goOn(next, frame.TimeS, true)
			return seen, nil
		}
		f.have = false
	}
	people, err := f.tracker.Detect(frame.Mat)
	if err != nil {
		return pose.Pose{}, err
	}
	best, ok := f.who.pick(frame.TimeS, people, k)
	if !ok && f.who.small {
		s, _ := f.who.at(frame.TimeS)
		close := Region{CX: s.x / k, CY: s.y / k, SizePx: closeLook * s.size / k}
		if people, err = f.tracker.detectIn(frame.Mat, close); err != nil {
			return pose.Pose{}, err
		}
		best, ok = f.who.pick(frame.TimeS, people, k)
	}
	if !ok {
		return pose.Pose{}, nil
	}
	f.tracker.forget()
	seen, next, err := f.tracker.look(frame.Mat, frame.TimeS, f.tracker.firstRegion(best), k)
	if err != nil || !seen.Found {
		return seen, err
	}
	seen.Redetected = true
	f.goOn(next, frame.TimeS, false)
	return seen, nil
}
