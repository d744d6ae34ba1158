package vision

import (
	"cmp"
	"context"
	"errors"
	"io"
	"iter"
	"math"
	"slices"
	"sync"

	"gocv.io/x/gocv"

	"holdfast/vision/camera"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
	"holdfast/words"
)

// sighting is one person in one picture of the first pass, in pixels of the clip.
type sighting struct {
	timeS, x, y, size float64
	leanDeg           float64 // of hips to head, clockwise from straight up
}

// athlete is the person that the first pass chose, as a path of sightings.
type athlete struct {
	seen       []sighting
	peopleSeen int
	paths      [][]sighting // of everybody
	camera     *camera.Glance
	// stood counts straight bodies in a clip that was turned that the landmark network
	// was shown, standing those that it saw standing.
	stood, standing int
	looks           int
	// small says that the athlete was found in parts of the picture only.
	small bool
}

const (
	scanRateHz = 6   // looks a second in the first pass
	scanSidePx = 480 // longer side of the pictures of the first pass
	// A person may move this part of their body's circle between two looks and
	// be gone this long and still be taken for the same person.
	linkDistance = 0.35
	linkGapS     = 1.5
)

// scan looks for people a few times a second and returns the athlete among
// them, or nil when nobody was seen. small asks for people who are small in the picture.
func (t *Tracker) scan(ctx context.Context, clip *media.Clip, small bool,
	progress media.Progress) (*athlete, error) {
	side, find := scanSidePx, (*finder).all
	if small {
		side, find = smallScanSidePx, (*finder).small
	}
	frames, err := clip.FramesWithOptions(ctx, media.FrameOptions{MaxSidePx: side, GlanceS: 1.0 / scanRateHz})
	if err != nil {
		return nil, err
	}
	defer frames.Close()
	var paths [][]sighting
	people, looks, stood, standing := pose.Crowd{}, 0, 0, 0
	background := camera.NewGlance()
	defer background.Close()
	for g, err := range t.glances(frames, find) {
		if err != nil {
			return nil, err
		}
		frame, found, err := g.frame, g.found, g.err
		timeS, k := frame.TimeS, frame.ScalePx
		if err == nil {
			figures := make([]camera.Figure, 0, len(found))
			for _, d := range found {
				figures = append(figures, camera.FigureOf(d.Hip[0]*k, d.Hip[1]*k, d.SizePx()*k))
			}
			err = background.Look(frame, figures)
		}
		if err == nil && clip.TurnedDeg != 0 && stood < mostStood && len(found) > 0 &&
			math.Abs(found[0].leanDeg()) <= straightDeg {
			var stands bool
			stands, err = t.standing(frame.Mat, found[0])
			stood++
			if stands {
				standing++
			}
		}
		frame.Close()
		if err != nil {
			return nil, &media.ClipError{Path: clip.Path, Doing: words.Say("error.doing_people_at",
				words.Params{"at_s": timeS}), Err: err}
		}
		looks++
		alone := once(found)
		people.Look(len(alone))
		paths = link(paths, timeS, alone, k)
		progress.Report("looking for the athlete", min(int(timeS*clip.FrameRateHz)+1, len(clip.TimesS)),
			len(clip.TimesS))
	}
	best := chooseAthlete(paths, looks, float64(clip.WidthPx))
	if best == nil {
		return nil, nil
	}
	return &athlete{seen: inPlace(rejoin(best, paths)), peopleSeen: people.Most, paths: paths, camera: background,
		stood: stood, standing: standing, looks: looks, small: small}, nil
}

// glance is a picture of the first pass with the people in it, or why they were not found.
type glance struct {
	frame *media.Frame
	found []Detection
	err   error
}

// glances returns the pictures of the first pass, in their order, until one cannot be read; who takes one closes its
// frame. Each finder looks at one while the others look at theirs.
func (t *Tracker) glances(frames *media.Frames,
	find func(*finder, gocv.Mat) ([]Detection, error)) iter.Seq2[glance, error] {
	return func(yield func(glance, error) bool) {
		for ended := false; !ended; {
			var some []glance
			var failed error
			for len(some) < len(t.finders) && !ended {
				frame, err := frames.Next()
				if ended = err != nil; !ended {
					some = append(some, glance{frame: frame})
				} else if !errors.Is(err, io.EOF) {
					failed = err
				}
			}
			var all sync.WaitGroup
			for i := range some {
				all.Go(func() { some[i].found, some[i].err = find(t.finders[i], some[i].frame.Mat) })
			}
			all.Wait()
			for i, g := range some {
				if !yield(g, nil) {
					for _, left := range some[i+1:] {
						left.frame.Close()
					}
					return
				}
			}
			if failed != nil {
				yield(glance{}, failed)
			}
		}
	}
}

// samePart of the larger circle apart, two hips are two people's (one's were at 0.03). Common practice, no source.
const samePart = 0.05

// once leaves out of the people that were found in a picture, best first, those who are in the place of a better one:
// one may be found twice there, as one who hangs from a bar is, the right way up and upside down.
func once(found []Detection) (people []Detection) {
	for _, d := range found {
		if !slices.ContainsFunc(people, func(p Detection) bool {
			return math.Hypot(d.Hip[0]-p.Hip[0], d.Hip[1]-p.Hip[1]) < samePart*max(d.SizePx(), p.SizePx())
		}) {
			people = append(people, d)
		}
	}
	return people
}

// findAthlete returns the athlete of the first pass, nil when nobody was seen. Where
// people seem to be turned in all of the clip it turns the clip and looks again; when
// they do not stand upright then, the clip stays as it was.
func (t *Tracker) findAthlete(ctx context.Context, clip *media.Clip, progress media.Progress) (*athlete, error) {
	who, err := t.scan(ctx, clip, false, progress)
	if err != nil {
		return nil, err
	}
	if who == nil || float64(len(who.seen)) < hardlySeen*float64(who.looks) {
		// A figure of a tenth of the picture's side is too small for the network.
		closer, err := t.scan(ctx, clip, true, progress)
		if err != nil {
			return nil, err
		}
		if closer != nil && (who == nil || len(closer.seen) > len(who.seen)) {
			who = closer
		}
	}
	if who == nil || who.small {
		return who, nil
	}
	turn := turnOf(who.paths)
	if turn == 0 {
		return who, nil
	}
	clip.Turn(turn)
	turned, err := t.scan(ctx, clip, false, progress)
	if err != nil {
		return nil, err
	}
	if turned != nil && 2*turned.standing > turned.stood {
		return turned, nil
	}
	clip.Turn(-turn)
	return who, nil
}

const (
	// straightDeg is how far a body may lean from a quarter turn and be taken to stand
	// in it; in a squat it leans by up to 50 degrees.
	straightDeg = 25
	// turnedPart is the part of the looks at straight bodies that must agree that the
	// picture is turned. High, because people lie down, bend over and stand on their
	// hands in pictures that are upright: then they also stand. Common practice, no
	// source.
	turnedPart = 0.8
	// leastTurned is how many looks must agree, mostStood how many bodies the landmark
	// network is asked about.
	leastTurned = 5
	mostStood   = 12
)

// turnOf returns by how many degrees the picture must be turned clockwise for people
// to stand upright: 0, 90, 180 or 270.
func turnOf(paths [][]sighting) int {
	var looks [4]int // by quarter turns of the body, clockwise
	all := 0
	for _, p := range paths {
		for _, s := range p {
			quarter := math.Round(s.leanDeg / 90)
			if math.Abs(s.leanDeg-90*quarter) <= straightDeg {
				looks[(int(quarter)+4)%4]++
				all++
			}
		}
	}
	for quarter := 1; quarter < 4; quarter++ {
		if n := looks[quarter]; n >= leastTurned && float64(n) >= turnedPart*float64(all) {
			return 360 - 90*quarter
		}
	}
	return 0
}

// standing says whether the landmark network sees a standing body in a picture.
func (t *Tracker) standing(picture gocv.Mat, d Detection) (bool, error) {
	pose, _, err := t.scout.see(picture, t.firstRegion(d), 1)
	if err != nil || !pose.Found {
		return false, err
	}
	middle := func(name string) plane.XY {
		var sum plane.XY
		for i, k := range t.scout.keypoints {
			if k == "left_"+name || k == "right_"+name {
				sum.X, sum.Y = sum.X+pose.Keypoints[i].X/2, sum.Y+pose.Keypoints[i].Y/2
			}
		}
		return sum
	}
	return stands(middle("shoulder"), middle("hip"), middle("ankle")), nil
}

// overFeetDeg is how far the line from ankles to shoulders leans at most of a body that stands on its feet, or it would
// fall over. In squats and jumps it was 16 degrees at most, in split squats 21; that of one who sits and lifts herself
// on a hand leaned by 25 to 32 in a picture that was turned for her. Common practice, no source.
const overFeetDeg = 20

// stands says whether a body stands: the shoulders over the hips, the hips over the ankles, and the shoulders over the
// feet. A body bent over has its trunk upright in a turned picture, but not its legs.
func stands(shoulder, hip, ankle plane.XY) bool {
	over := func(a, b plane.XY, deg float64) bool { return math.Atan2(math.Abs(b.X-a.X), b.Y-a.Y)*180/math.Pi < deg }
	return over(shoulder, hip, 45) && over(hip, ankle, 45) && over(shoulder, ankle, overFeetDeg)
}

// usual returns the median of where the hips were across the picture.
func usual(p []sighting) float64 {
	var xs []float64
	for _, s := range p {
		xs = append(xs, s.x)
	}
	return plane.Quantile(xs, 0.5)
}

// rejoin adds to the athlete's path the others that are pieces of it: seen at
// other times, in the same place and of the same size.
func rejoin(best []sighting, paths [][]sighting) []sighting {
	joined := slices.Clone(best)
	for _, p := range paths {
		if &p[0] == &best[0] || len(p) < 2 {
			continue
		}
		from, to := p[0].timeS, p[len(p)-1].timeS
		apart := !slices.ContainsFunc(joined, func(s sighting) bool { return s.timeS >= from && s.timeS <= to })
		size := best[len(best)/2].size
		if apart && math.Abs(usual(p)-usual(best)) < strayed*size &&
			math.Abs(math.Log(p[len(p)/2].size/size)) < math.Log(1.4) {
			joined = append(joined, p...)
		}
	}
	slices.SortFunc(joined, func(a, b sighting) int { return cmp.Compare(a.timeS, b.timeS) })
	return joined
}

// inPlace leaves out sightings beside where the athlete is in the seconds around:
// they are of someone who passed in front.
func inPlace(seen []sighting) []sighting {
	var out []sighting
	for i, s := range seen {
		lo, hi := i, i
		for lo > 0 && s.timeS-seen[lo-1].timeS < 2.5 {
			lo--
		}
		for hi < len(seen)-1 && seen[hi+1].timeS-s.timeS < 2.5 {
			hi++
		}
		if math.Abs(s.x-usual(seen[lo:hi+1])) < 0.8*strayed*s.size {
			out = append(out, s)
		}
	}
	if len(out) == 0 {
		return seen
	}
	return out
}

// link adds the people of one picture to the paths they continue best.
func link(paths [][]sighting, timeS float64, found []Detection, scalePx float64) [][]sighting {
	type pair struct {
		path, person int
		distance     float64
	}
	var pairs []pair
	for i, p := range paths {
		last := p[len(p)-1]
		if timeS-last.timeS > linkGapS {
			continue
		}
		// Someone who passes in front is taken for the athlete for a look or
		// two; where the athlete has mostly been tells them apart afterwards.
		usualX := usual(p[max(0, len(p)-8):])
		for j, d := range found {
			size := math.Max(last.size, d.SizePx()*scalePx)
			dist := math.Hypot(d.Hip[0]*scalePx-usualX, d.Hip[1]*scalePx-last.y) / size
			ratio := math.Abs(math.Log(d.SizePx() * scalePx / last.size))
			if dist < linkDistance && ratio < math.Ln2 {
				pairs = append(pairs, pair{i, j, dist + 0.2*ratio})
			}
		}
	}
	slices.SortFunc(pairs, func(a, b pair) int { return cmp.Compare(a.distance, b.distance) })
	usedPath, usedPerson := map[int]bool{}, map[int]bool{}
	add := func(j int) sighting {
		d := found[j]
		return sighting{timeS, d.Hip[0] * scalePx, d.Hip[1] * scalePx, d.SizePx() * scalePx, d.leanDeg()}
	}
	for _, p := range pairs {
		if usedPath[p.path] || usedPerson[p.person] {
			continue
		}
		usedPath[p.path], usedPerson[p.person] = true, true
		paths[p.path] = append(paths[p.path], add(p.person))
	}
	for j := range found {
		if !usedPerson[j] {
			paths = append(paths, []sighting{add(j)})
		}
	}
	return paths
}

// chooseAthlete returns the path of the person who moves through the reps: the
// one whose hips rise and fall most for their size while staying in place, seen
// through most of the clip. Where nobody moves, the largest person near the
// middle is taken.
func chooseAthlete(paths [][]sighting, looks int, widthPx float64) []sighting {
	var best []sighting
	bestScore := math.Inf(-1)
	for _, p := range paths {
		var xs, ys, sizes []float64
		for _, s := range p {
			xs, ys, sizes = append(xs, s.x), append(ys, s.y), append(sizes, s.size)
		}
		size := plane.Quantile(sizes, 0.5)
		rise := (plane.Quantile(ys, 0.95) - plane.Quantile(ys, 0.05)) / size
		walk := (plane.Quantile(xs, 0.95) - plane.Quantile(xs, 0.05)) / size
		coverage := float64(len(p)) / float64(max(1, looks))
		// Hips that move less than a twentieth of the body are standing about;
		// more than half the body is more than any squat or jump.
		score := math.Min(math.Max(rise-0.05, 0), 0.5) * coverage / (1 + 2*math.Max(0, walk-0.5))
		centre := 1 - math.Abs(plane.Quantile(xs, 0.5)-widthPx/2)/widthPx
		score += 1e-3 * coverage * size / widthPx * centre
		if score > bestScore {
			best, bestScore = p, score
		}
	}
	return best
}

// at returns where the athlete was at a time, from the sightings around it, and
// how far in time the nearest sighting lies.
func (a *athlete) at(timeS float64) (s sighting, away float64) {
	i, _ := slices.BinarySearchFunc(a.seen, timeS, func(s sighting, t float64) int {
		if s.timeS < t {
			return -1
		}
		return 1
	})
	switch {
	case i == 0:
		return a.seen[0], a.seen[0].timeS - timeS
	case i == len(a.seen):
		s = a.seen[i-1]
		return s, timeS - s.timeS
	}
	p, q := a.seen[i-1], a.seen[i]
	f := (timeS - p.timeS) / (q.timeS - p.timeS)
	s = sighting{timeS: timeS, x: p.x + f*(q.x-p.x), y: p.y + f*(q.y-p.y), size: p.size + f*(q.size-p.size)}
	return s, math.Min(timeS-p.timeS, q.timeS-timeS)
}

// elsewhere says whether a region whose middle lies at x, for a body of the
// given size (clip pixels), cannot be the athlete's at that time. Only the way
// along the floor counts: hips that drop fast are where the first pass did not
// look.
func (a *athlete) elsewhere(timeS, x, size float64) bool {
	s, away := a.at(timeS)
	if away > 0.5 {
		return false
	}
	ratio := size / s.size
	return math.Abs(x-s.x) > strayed*s.size || ratio > 2 || ratio < 0.5
}

// pick returns the detection that is the athlete at a time, in pixels of the
// picture searched.
func (a *athlete) pick(timeS float64, people []Detection, scalePx float64) (Detection, bool) {
	s, away := a.at(timeS)
	// Farther from the last sighting the athlete may have come from anywhere
	// near; but a person far from the path is never the athlete.
	reach := strayed + 0.3*math.Min(away, 2)
	best, bestDistance := Detection{}, math.Inf(1)
	for _, d := range people {
		dist := math.Hypot(d.Hip[0]*scalePx-s.x, (d.Hip[1]*scalePx-s.y)/2) / s.size
		ratio := d.SizePx() * scalePx / s.size
		if dist < reach && ratio < 2 && ratio > 0.5 && dist < bestDistance {
			best, bestDistance = d, dist
		}
	}
	return best, !math.IsInf(bestDistance, 1)
}

// figures returns what the people of the first pass cover at a time.
func (a *athlete) figures(timeS float64) []camera.Figure {
	var out []camera.Figure
	for _, path := range a.paths {
		if s, away := (&athlete{seen: path}).at(timeS); away < 0.4 {
			out = append(out, camera.FigureOf(s.x, s.y, s.size))
		}
	}
	return out
}
