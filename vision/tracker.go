package vision

import (
	"cmp"
	"context"
	"errors"
	"io"
	"runtime"
	"runtime/debug"
	"sync"

	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/vision/camera"
	"holdfast/vision/foot"
	"holdfast/vision/media"
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
	opt     TrackerOptions
	finders [2]*finder  // look for people, side by side
	scout   *eye        // goes ahead
	body    *eye        // looks where numbers come from,
	second  *secondLook // and again; nil: one network is enough
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
	var errs [len(t.finders) + 1]error
	var loading sync.WaitGroup
	for i := range t.finders {
		loading.Go(func() { t.finders[i], errs[i] = newFinder() })
	}
	loading.Go(func() { errs[len(t.finders)] = t.loadBody() })
	loading.Wait()
	return t, cmp.Or(errs[:]...)
}

// loadBody loads the landmark networks, and the lighter one that goes ahead of them: the leading one itself where its
// manifest names none.
func (t *Tracker) loadBody() (err error) {
	parts := models.Parts(t.opt.Model)
	threads := max(1, t.opt.Threads/len(parts)) // both work at the same time
	if t.body, err = newEye(parts[0], threads, t.opt.KeepRegression); err != nil {
		return err
	}
	var failed error
	var loading sync.WaitGroup
	if len(parts) > 1 {
		loading.Go(func() { t.second, failed = newSecondLook(parts[1], threads, t.body.keypoints) })
	}
	t.scout, err = newEye(cmp.Or(t.body.net.manifest.Region.Scout, parts[0]), 1, t.opt.KeepRegression)
	loading.Wait()
	return cmp.Or(failed, err)
}

// Close frees the networks.
func (t *Tracker) Close() error {
	var errs []error
	var networks []*network
	for _, f := range t.finders {
		if f != nil {
			networks = append(networks, f.net)
		}
	}
	for _, e := range []*eye{t.scout, t.body} {
		if e != nil {
			networks = append(networks, e.net)
		}
	}
	if t.second != nil {
		networks = append(networks, t.second.net)
	}
	for _, n := range networks {
		errs = append(errs, n.Close())
	}
	return errors.Join(errs...)
}

// sum returns the sum by which the networks are known.
func (t *Tracker) sum() string {
	if t.second == nil {
		return models.SumOf(t.body.net.manifest.SHA256)
	}
	return models.SumOf(t.body.net.manifest.SHA256, t.second.net.manifest.SHA256)
}

// Detect finds the people in a picture, best first.
func (t *Tracker) Detect(picture gocv.Mat) ([]Detection, error) {
	return t.finders[0].all(picture)
}

// firstRegion returns the region to look at for a person found anew.
func (t *Tracker) firstRegion(d Detection) Region {
	r := regionFrom(d.Hip, d.Crown, t.finders[0].net.manifest.Region.ScaleFactor).headUp()
	if t.scout.reach != nil {
		r.AngleRad = 0 // such regions are upright
	}
	return r
}

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

	names := t.body.keypoints
	// Networks and pictures have their memory now, and what is kept of each frame grows beside it: it is cleaned up more
	// often, which costs little while little of it becomes garbage.
	defer debug.SetGCPercent(debug.SetGCPercent(10))
	track := &pose.Track{KeypointNames: names, ModelName: t.opt.Model, ModelSHA256: t.sum(),
		Poses: make([]pose.Pose, 0, len(clip.TimesS)), PeopleSeen: who.peopleSeen,
		ListedS: clip.ListedS, TurnedDeg: clip.TurnedDeg}
	feet := foot.NewAlbum(names)
	defer feet.Close()
	if err := t.follow(ctx, clip, who, steady, track, feet, progress); err != nil {
		return nil, err
	}
	_ = frames.Close() // every one was read: what follows may have the memory of pictures and decoder
	back.Finish(track)
	if err = cuts.Finish(track); err == nil {
		err = feet.Measure(ctx, track)
	}
	if err == nil {
		err = worthKeeping(clip, track)
	}
	if err != nil {
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

// follow goes with the athlete through the frames, and fills the track and the album of the feet. The scout goes ahead,
// the leading network looks at the frames that matter, and the second one at those that the leading one has seen: none
// of them waits for a core that another could use. Most of the time goes into the leading one's looks, each of which
// needs the one before: the others stand back for it.
func (t *Tracker) follow(ctx context.Context, clip *media.Clip, who *athlete, frames <-chan camera.Placed,
	track *pose.Track, feet *foot.Album, progress media.Progress) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	planned, led := newAisle(clip), newAisle(clip)
	scouted, leading := make(chan error, 1), make(chan error, 1)
	go func() {
		defer planned.end()
		behind()
		scouted <- t.goAhead(ctx, clip, who, frames, planned.put)
	}()
	go func() {
		defer led.end()
		err := t.lead(ctx, clip, planned, led)
		if err != nil {
			cancel() // nobody needs what comes
		}
		leading <- err
	}()
	both := joint{second: t.second, track: track, gapS: leastAgainS, at: -1}
	if t.opt.EveryFrame {
		both.gapS = 0
	}
	settled := make(chan error, 1)
	go func() {
		behind()
		var failed error
		for s := range led.all() {
			if failed == nil {
				if failed = both.settle(s, clip, feet); failed != nil {
					cancel()
				}
				progress.Report("tracking", len(track.Poses), len(clip.TimesS))
			}
			s.Close()
		}
		both.end()
		settled <- failed
	}()
	return cmp.Or(<-settled, <-leading, <-scouted)
}

// lead lets the leading network look, and hands the frames on; what it hands on is closed by who takes it.
func (t *Tracker) lead(ctx context.Context, clip *media.Clip, from, to *aisle) (failed error) {
	l := newLeader(t.body)
	for s := range from.all() {
		if failed == nil && ctx.Err() == nil {
			if err := l.look(s); err != nil {
				failed = trackingError(clip, s.Frame, err)
			}
		}
		if failed != nil || ctx.Err() != nil {
			s.Close()
			continue
		}
		to.put(s)
	}
	return failed
}

// settle lets the second network look at a frame, and takes the frame over into the track and the album.
func (j *joint) settle(s *sight, clip *media.Clip, feet *foot.Album) error {
	p := &s.pose
	if j.second != nil {
		if err := j.take(s); err != nil {
			return trackingError(clip, s.Frame, err)
		}
	}
	feet.Keep(s.Frame, len(j.track.Poses), p)
	p.Index, p.TimeS, p.Damaged = s.Frame.Index, s.Frame.TimeS, s.Frame.Damaged
	p.Camera, p.Cut, p.Scene = s.Camera, s.Cut, s.Scene
	j.track.Poses = append(j.track.Poses, *p)
	return nil
}

// goAhead lets the scout follow the athlete, and emits the frames in their order, with what is to be looked at.
func (t *Tracker) goAhead(ctx context.Context, clip *media.Clip, who *athlete, frames <-chan camera.Placed,
	emit func(*sight)) error {
	f := scout{tracker: t, who: who, pace: newPace(t.scout.keypoints), frameS: 1 / clip.FrameRateHz}
	p := newPlan(clip, f.pace, t.opt.EveryFrame)
	for d := range frames {
		if errors.Is(d.Err, io.EOF) {
			break
		}
		s := &sight{Placed: d}
		err := cmp.Or(d.Err, ctx.Err())
		if err == nil {
			if err = f.step(s); err != nil {
				err = trackingError(clip, d.Frame, err)
			}
		}
		if err != nil {
			s.Close()
			for _, s := range p.waiting {
				s.Close()
			}
			return err
		}
		for _, s := range p.take(s) {
			emit(s)
		}
	}
	for _, s := range p.end() {
		emit(s)
	}
	return ctx.Err()
}

// trackingError says in which frame of a clip tracking failed.
func trackingError(clip *media.Clip, frame *media.Frame, err error) error {
	return &media.ClipError{Path: clip.Path, Doing: words.Say("error.doing_tracking_frame",
		words.Params{"frame": frame.Index, "at_s": frame.TimeS}), Err: err}
}
