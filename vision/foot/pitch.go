package foot

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// AddPitch measures the pitch of the near foot in a clip that was tracked, and writes
// it into the track's poses as the tracker does; what they knew of it is forgotten. The
// clip's pictures are read once more.
//
// The rear of the shoe, as it is seen while the athlete stands, is laid over each other
// frame; how far it has turned is the pitch. There is none in a frame where what is found
// is not like enough, or where nobody was tracked; and none at all where the network has
// no heels and toes. The foot of the stand is taken to be flat.
//
// It returns the context's error when stopped, and that of reading the clip.
func AddPitch(ctx context.Context, clip *media.Clip, track *pose.Track) error {
	frames, err := clip.FramesWithOptions(ctx, media.FrameOptions{MaxSidePx: media.TrackedSidePx})
	if err != nil {
		return err
	}
	defer frames.Close()
	album := NewAlbum(track.KeypointNames)
	defer album.Close()
	for at := 0; ; {
		frame, err := frames.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		for at < len(track.Poses) && track.Poses[at].Index < frame.Index {
			at++
		}
		if at < len(track.Poses) && track.Poses[at].Index == frame.Index {
			album.Keep(frame, at, &track.Poses[at])
		}
		frame.Close()
	}
	return album.Measure(ctx, track)
}

// Measure writes the pitch of the near foot into the track.
func (a *Album) Measure(ctx context.Context, t *pose.Track) error {
	for i := range t.Poses {
		t.Poses[i].FootPitch = nil
	}
	side := a.nearSide(t)
	if side < 0 {
		return nil
	}
	m := footMatch{album: a, way: a.way(t, side)}
	if m.stand = m.way.stand(a.kept); m.stand < 0 {
		return nil
	}
	cutOut, err := m.cutOut(t.Poses[a.kept[m.stand].pose].Camera.AngleDeg)
	if err != nil || !cutOut {
		return err
	}
	n := len(a.kept)
	m.found, m.known = make([]laid, n), make([]bool, n)
	if err := (&overlay{footMatch: &m}).step(m.stand, -1, false); err != nil {
		return err
	}
	var both errgroup.Group
	both.Go(func() error { return m.walk(ctx, n-1, 1) })
	both.Go(func() error { return m.walk(ctx, 0, -1) })
	if err := both.Wait(); err != nil {
		return err
	}
	m.write(t)
	return nil
}

// walk lays the shoe over the pictures from the stand to an end of the clip, and back: what a foot that lands after a
// flight looks like is learnt from the frames after it. The way to the other end is another one's: neither asks for a
// picture of the other.
func (m *footMatch) walk(ctx context.Context, end, step int) error {
	o := overlay{footMatch: m}
	for k := m.stand + step; (end-k)*step >= 0; k += step {
		if err := cmp.Or(ctx.Err(), o.step(k, k-step, false)); err != nil {
			return err
		}
	}
	for k := end - step; (k-m.stand)*step > 0; k -= step {
		if err := cmp.Or(ctx.Err(), o.step(k, k+step, true)); err != nil {
			return err
		}
	}
	return nil
}

// footWay is the way of a side's points through the clip, smoothed, one value a pose, in
// pixels of the clip; missing where nothing was seen.
type footWay struct {
	timeS                 []float64
	hip, ankle, heel, toe []plane.XY
	footPx                float64 // from heel to toe, median
	facing                float64 // 1: the toes point to the right of the picture, else -1
}

// smoothS is the time over which points are smoothed to say where the foot is.
const smoothS = 0.04

func (a *Album) way(t *pose.Track, side int) *footWay {
	n := len(t.Poses)
	w := &footWay{timeS: make([]float64, n)}
	for i := range t.Poses {
		w.timeS[i] = t.Poses[i].TimeS
	}
	index := a.index[side]
	for _, p := range []struct {
		to *[]plane.XY
		at int
	}{{&w.hip, index.hip}, {&w.ankle, index.ankle}, {&w.heel, index.heel}, {&w.toe, index.toe}} {
		raw := make([]plane.XY, n)
		for i := range t.Poses {
			raw[i] = plane.XY{X: math.NaN(), Y: math.NaN()}
			if q := &t.Poses[i]; q.Found && (!t.CameraMoved || q.Camera.Known) {
				raw[i] = plane.XY{X: q.Keypoints[p.at].X, Y: q.Keypoints[p.at].Y}
			}
		}
		*p.to = w.smooth(raw)
	}
	var long, right []float64
	for i := range n {
		if d := w.toe[i].X - w.heel[i].X; !math.IsNaN(d) {
			right = append(right, d)
			long = append(long, math.Hypot(d, w.toe[i].Y-w.heel[i].Y))
		}
	}
	if len(long) == 0 {
		return w
	}
	w.footPx, w.facing = plane.Quantile(long, 0.5), math.Copysign(1, plane.Quantile(right, 0.5))
	return w
}

// smooth returns the medians over smoothS.
func (w *footWay) smooth(raw []plane.XY) []plane.XY {
	out := make([]plane.XY, len(raw))
	from := 0
	var xs, ys []float64
	for i := range raw {
		for w.timeS[from] < w.timeS[i]-smoothS {
			from++
		}
		xs, ys = xs[:0], ys[:0]
		for j := from; j < len(raw) && w.timeS[j] <= w.timeS[i]+smoothS; j++ {
			if !raw[j].Missing() {
				xs, ys = append(xs, raw[j].X), append(ys, raw[j].Y)
			}
		}
		out[i] = plane.XY{X: math.NaN(), Y: math.NaN()}
		if len(xs) > 0 && !raw[i].Missing() {
			out[i] = plane.XY{X: plane.Quantile(xs, 0.5), Y: plane.Quantile(ys, 0.5)}
		}
	}
	return out
}

// What a stand is: each makes a frame a worse one by 1; common practice, no source.
const (
	standStillS   = 0.15
	standMovePart = 0.05 // of the foot's length that its points move within standStillS
	standLowPart  = 0.03 // of the height of the hip over the ankle that is missing
	standHighPart = 0.1  // of the foot's length that the ankle is higher than usual
)

// stand returns which of the pictures shows the athlete standing best: tall, still and the
// ankle as low as it gets; -1: none.
func (w *footWay) stand(kept []footPicture) int {
	var tall []float64
	for _, p := range kept {
		if d := w.ankle[p.pose].Y - w.hip[p.pose].Y; !math.IsNaN(d) {
			tall = append(tall, d)
		}
	}
	if len(tall) == 0 || !(w.footPx > 0) {
		return -1
	}
	height := plane.Quantile(tall, 0.95)
	var level []float64
	for _, p := range kept {
		if d := w.ankle[p.pose].Y - w.hip[p.pose].Y; d > 0.95*height {
			level = append(level, w.ankle[p.pose].Y)
		}
	}
	floor := plane.Quantile(level, 0.8)
	best, least := -1, math.Inf(1)
	for k, p := range kept {
		i := p.pose
		low := max(0, 1-(w.ankle[i].Y-w.hip[i].Y)/height)
		cost := low/standLowPart + math.Abs(w.ankle[i].Y-floor)/(standHighPart*w.footPx) + w.motion(i)/standMovePart
		if cost < least {
			best, least = k, cost
		}
	}
	return best
}

// motion returns how far the foot's points move about a pose, in parts of its length.
func (w *footWay) motion(i int) float64 {
	most := 0.0
	for _, way := range [][]plane.XY{w.ankle, w.heel, w.toe, w.hip} {
		for step := -1; step <= 1; step += 2 {
			for j := i; j >= 0 && j < len(way) && math.Abs(w.timeS[j]-w.timeS[i]) <= standStillS; j += step {
				if d := math.Hypot(way[j].X-way[i].X, way[j].Y-way[i].Y); d > most {
					most = d
				}
			}
		}
	}
	return most / w.footPx
}

// Where the shoe lies about the heel and the toe of a 33-point network in standing, in
// lengths between the two: measured on the rendered clips, whose two athletes differ by a
// tenth of a shoe.
const (
	shoeLength     = 1.3
	shoeBehindHeel = 0.13
	soleBelow      = 0.2
)

// What of the shoe is laid over the other pictures, in its lengths from its lower back
// end: not the toes, which stay on the floor as the heel comes up, and not the ankle,
// which turns with the shank.
const (
	rearTo   = 0.5
	rearLow  = 0.03
	rearHigh = 0.2
	// ballAt is where the ball of the foot lies: at 0.72 to 0.74 of a foot's length (Hawes &
	// Sovak 1994, from memory), and the shoe is a little longer than the foot at either end.
	ballAt = 0.7
)

// How the shoe is looked for; settled on slow_30 and fast_30.
const (
	fineSoftPx                    = 1.0
	coarseSoftPart                = 0.04            // of the shoe
	sureCorrelation               = 0.96            // more: nothing better is looked for
	leastAlike                    = 0.9             // less: not known
	alikeAlone                    = 0.97            // less: not known where points or way say another pitch
	sinkDeg, riseDeg, lookStepDeg = 32.0, 72.0, 4.0 // turns looked at, toes up to heel up
	lookStepPart                  = 0.08            // of the shoe
	looks                         = 4               // of them, most alike first, that are followed up
	awayPart                      = 0.35            // of the shoe that the ball lies from where the points put it, at most
	apartDeg, apartPart           = 15.0, 0.35      // from the pitch that the points say, and of the pitch
)

// footMatch lays the shoe of the stand over the pictures of the album.
type footMatch struct {
	album        *Album
	way          *footWay
	stand        int // the picture that shows it
	fine, coarse patch
	back         plane.XY // the shoe's lower back end there
	along, up    plane.XY // a length of the shoe along the sole and up
	shoePx       float64
	found        []laid // in each picture
	known        []bool
}

// overlay is the shoe over one picture after another.
type overlay struct {
	*footMatch
	fields [2]field // of the picture at hand, soft and softer
}

// at returns a place of the stand's picture from its place on the shoe.
func (m *footMatch) at(along, up float64) plane.XY {
	return m.back.Add(along*m.along.X+up*m.up.X, along*m.along.Y+up*m.up.Y)
}

// isRear says whether a place of the stand's picture is of the part that is laid over.
func (m *footMatch) isRear(p plane.XY) bool {
	d, l := plane.XY{X: p.X - m.back.X, Y: p.Y - m.back.Y}, m.shoePx*m.shoePx
	along, up := (d.X*m.along.X+d.Y*m.along.Y)/l, (d.X*m.up.X+d.Y*m.up.Y)/l
	return along >= 0 && along <= rearTo && up >= rearLow && up <= rearHigh
}

// cutOut takes the rear of the shoe from the picture of the stand, which is turned by
// cameraDeg against the first; false where there is nothing to see.
func (m *footMatch) cutOut(cameraDeg float64) (ok bool, err error) {
	a, w := m.album, m.way
	ref := &a.kept[m.stand]
	heel, toe := ref.place(w.heel[ref.pose], a.clipPx), ref.place(w.toe[ref.pose], a.clipPx)
	m.shoePx = shoeLength * math.Hypot(toe.X-heel.X, toe.Y-heel.Y)
	// A flat foot is level; the line through two points of a network is not.
	sin, cos := math.Sincos(-cameraDeg * math.Pi / 180)
	m.along, m.up = plane.XY{X: w.facing * cos * m.shoePx, Y: w.facing * sin * m.shoePx},
		plane.XY{X: sin * m.shoePx, Y: -cos * m.shoePx}
	m.back = plane.XY{X: (heel.X + toe.X) / 2, Y: (heel.Y + toe.Y) / 2}
	m.back = m.at(-(0.5+shoeBehindHeel)/shoeLength, -soleBelow/shoeLength)
	o := overlay{footMatch: m}
	if err := o.open(m.stand); err != nil {
		return false, err
	}
	middle := m.at(rearTo/2, (rearLow+rearHigh)/2)
	if m.fine, ok = newPatch(&o.fields[0], middle, m.isRear); ok {
		m.coarse, ok = newPatch(&o.fields[1], middle, m.isRear)
	}
	return ok, nil
}

// open softens a picture.
func (o *overlay) open(k int) (err error) {
	p := &o.album.kept[k]
	grey, err := p.grey.Bytes(nil)
	if err != nil {
		return err
	}
	for i, soft := range [2]float64{fineSoftPx, max(fineSoftPx, coarseSoftPart*o.shoePx)} {
		if o.fields[i], err = newField(grey, p.w, p.h, soft); err != nil {
			return fmt.Errorf("softening a picture of the feet: %w", err)
		}
	}
	return nil
}

// step lays the shoe over picture k, beginning from how it lies in the picture beside. Where nothing is found so it is
// looked for anywhere, if that was not done before.
func (o *overlay) step(k, beside int, again bool) error {
	m, a, w := o.footMatch, o.album, o.way
	now := &a.kept[k]
	if w.toe[now.pose].Missing() || w.heel[now.pose].Missing() || m.known[k] && m.found[k].correlation >= sureCorrelation {
		return nil
	}
	if err := o.open(k); err != nil {
		return err
	}
	try := func(l laid, ok bool) {
		if ok && m.can(l.lie, now) && (!m.known[k] || l.correlation > m.found[k].correlation) {
			m.found[k], m.known[k] = l, true
		}
	}
	sure := func() bool { return m.known[k] && m.found[k].correlation >= sureCorrelation }
	if k == m.stand {
		try(m.fine.lay(&o.fields[0], lie{at: m.fine.middle}))
		return nil
	}
	if beside >= 0 && beside < len(m.known) && m.known[beside] {
		then := &a.kept[beside]
		l := m.found[beside].lie
		l.at = l.at.Add((then.from.X-now.from.X)/a.clipPx, (then.from.Y-now.from.Y)/a.clipPx)
		try(m.fine.lay(&o.fields[0], l))
		if !sure() {
			from, to := w.toe[then.pose], w.toe[now.pose]
			l.at = l.at.Add((to.X-from.X)/a.clipPx, (to.Y-from.Y)/a.clipPx)
			try(o.follow(l))
		}
	}
	if !sure() && !again {
		starts := o.mostAlike(o.anywhere(now))
		lies, found := make([]laid, len(starts)), make([]bool, len(starts))
		var all sync.WaitGroup
		for i, l := range starts {
			all.Go(func() { lies[i], found[i] = o.follow(l) })
		}
		all.Wait()
		for i := range starts {
			try(lies[i], found[i])
		}
	}
	return nil
}

// follow lays the shoe over the softer picture first.
func (o *overlay) follow(l lie) (laid, bool) {
	if rough, ok := o.coarse.lay(&o.fields[1], l); ok {
		l = rough.lie
	}
	return o.fine.lay(&o.fields[0], l)
}

// anywhere returns how the shoe may lie near where the points put it.
func (m *footMatch) anywhere(now *footPicture) []lie {
	ball, pivot := m.ballBy(now), m.at(ballAt, rearLow)
	d := plane.XY{X: m.fine.middle.X - pivot.X, Y: m.fine.middle.Y - pivot.Y}
	shift := lookStepPart * m.shoePx
	var starts []lie
	for deg := -sinkDeg; deg <= riseDeg; deg += lookStepDeg {
		turn := m.way.facing * deg * math.Pi / 180
		sin, cos := math.Sincos(turn)
		for dx := -shift; dx <= shift; dx += shift {
			for dy := -shift; dy <= shift; dy += shift {
				starts = append(starts, lie{turn, ball.Add(cos*d.X-sin*d.Y+dx, sin*d.X+cos*d.Y+dy)})
			}
		}
	}
	return starts
}

// mostAlike returns those in which the softer picture is most like the shoe.
func (o *overlay) mostAlike(starts []lie) []lie {
	seen := make([]float64, len(o.coarse.x))
	alike := make(map[lie]float64, len(starts))
	for _, s := range starts {
		if o.coarse.read(&o.fields[1], s, seen) >= leastInside {
			alike[s] = o.coarse.correlation(seen)
		}
	}
	starts = slices.DeleteFunc(starts, func(s lie) bool { _, ok := alike[s]; return !ok })
	slices.SortStableFunc(starts, func(a, b lie) int { return cmp.Compare(alike[b], alike[a]) })
	return starts[:min(looks, len(starts))]
}

// ballBy returns where the points put the ball of the foot in a picture.
func (m *footMatch) ballBy(now *footPicture) plane.XY {
	ref, clipPx := &m.album.kept[m.stand], m.album.clipPx
	from, to := ref.place(m.way.toe[ref.pose], clipPx), now.place(m.way.toe[now.pose], clipPx)
	return m.at(ballAt, rearLow).Add(to.X-from.X, to.Y-from.Y)
}

// can says whether the shoe can lie so: near where the points put it and turned as a foot
// turns.
func (m *footMatch) can(l lie, now *footPicture) bool {
	rise := m.way.facing * l.turnRad * 180 / math.Pi
	pivot, by := m.at(ballAt, rearLow), m.ballBy(now)
	sin, cos := math.Sincos(l.turnRad)
	dx, dy := pivot.X-m.fine.middle.X, pivot.Y-m.fine.middle.Y
	ball := l.at.Add(cos*dx-sin*dy, sin*dx+cos*dy)
	return rise >= -sinkDeg && rise <= riseDeg && math.Hypot(ball.X-by.X, ball.Y-by.Y) < awayPart*m.shoePx
}

// The standard deviation of a pitch that the turn of the picture tells alone: of a flat foot, how many times that of
// independent pixels, and parts of the turn, the more the less alike the picture is. A rendered foot of 75 pixels is
// far better; but the sole of a real one, flat on the floor, read up to 2 degrees. Settled on 18 invented athletes.
const (
	flatPictureSDDeg = 0.5
	pixelSDs         = 6.0
	turnSDPart       = 0.03
	unlikeSDPart     = 2.4
	// A foot of fewer pixels from heel to toe holds less to hold on to: the standard deviation
	// grows with the inverse of its area. Without that, feet of 32 to 40 pixels were off by
	// 1.6 times of it, rms, in 19 clips of invented athletes of both sets, larger ones in 38
	// clips by 1.0 times.
	largeFootPx = 50.0
)

// What turn and way about the ball are worth beside each other: standard deviations in degrees, in those of the turn by
// independent pixels, and in parts of the pitch. The way is hardly drawn off by what moves within the patch, but is
// no better than the place of the ball is known. Settled on 44 clips of 22 invented athletes of the calibrate set,
// where what comes out is off by 0.9 to 1.0 times of what it says, for feet of 37 to 45 pixels by 0.8; the degrees on
// the flat soles of three real clips and on the shipped ones.
const (
	besideTurnDeg, besideTurnSDs, besideTurnPart = 0.5, 8.0, 0.02
	besideArcDeg, besideArcSDs, besideArcPart    = 0.2, 1.3, 0.12
	apartSDPart                                  = 0.25 // of the difference between the two
)

// How turn and way about the ball go together. A foot that is turned far looks little like the one that stands, but
// that both say the same is proof enough: with heels up by 20 degrees and more, those clips' pictures with a
// correlation of 0.6 to 0.8 were off by 3 degrees rms where the two agreed, as were those more alike.
const (
	arcLeastAlike = 0.5 // less: not known even where they agree
	agreeSDs      = 2.5 // of their difference, by which they may differ,
	agreeMostDeg  = 12.0
	arcAlike      = 0.88 // more alike: by
	agreeDeg      = 6.0  // this in any case,
	agreePart     = 0.3  // and by so much more of the larger
)

// both returns the pitch that turn and way about the ball tell together, each counting for what it is worth beside
// the other, and its standard deviation, degrees; ok is false where they do not say the same, the picture being so
// much like that of the stand.
func both(turnDeg, arcDeg, pixelSDDeg, correlation float64) (deg, sdDeg float64, ok bool) {
	if math.IsNaN(arcDeg) || correlation < arcLeastAlike {
		return 0, 0, false
	}
	larger, apart := max(math.Abs(turnDeg), math.Abs(arcDeg)), math.Abs(turnDeg-arcDeg)
	turnSD := math.Hypot(besideTurnDeg, math.Hypot(besideTurnSDs*pixelSDDeg, besideTurnPart*larger))
	arcSD := math.Hypot(besideArcDeg, math.Hypot(besideArcSDs*pixelSDDeg, besideArcPart*larger))
	may := min(agreeMostDeg, agreeSDs*math.Hypot(math.Hypot(turnSD, arcSD), flatPictureSDDeg))
	if correlation >= arcAlike {
		may = max(may, agreeDeg+agreePart*larger)
	}
	if !(apart <= may) {
		return 0, 0, false
	}
	sum := sq(turnSD) + sq(arcSD)
	w := sq(arcSD) / sum
	return w*turnDeg + (1-w)*arcDeg, math.Sqrt(sq(turnSD*arcSD)/sum + sq(apartSDPart*apart) + sq(flatPictureSDDeg)), true
}

// upDeg returns by how much the shoe is turned against that of the stand, degrees, heel up
// positive, the camera's own turn taken off.
func (m *footMatch) upDeg(t *pose.Track, k int) float64 {
	camera := t.Poses[m.album.kept[k].pose].Camera.AngleDeg - t.Poses[m.album.kept[m.stand].pose].Camera.AngleDeg
	return m.way.facing * (m.found[k].turnRad*180/math.Pi + camera)
}

// write hands over to the track what is like enough to be known: what the turn and the way about the ball tell
// together where they agree, else the turn, if it is like enough by itself.
func (m *footMatch) write(t *pose.Track) {
	line := func(i int) float64 {
		return math.Atan2(m.way.toe[i].Y-m.way.heel[i].Y, m.way.facing*(m.way.toe[i].X-m.way.heel[i].X)) * 180 / math.Pi
	}
	standDeg := line(m.album.kept[m.stand].pose)
	footPx := m.shoePx * m.album.clipPx / shoeLength
	small := max(1, largeFootPx*largeFootPx/(footPx*footPx))
	arcs := m.arcs(t)
	for k := range m.album.kept {
		l := m.found[k]
		if !m.known[k] {
			continue
		}
		i := m.album.kept[k].pose
		turnDeg, pixelSDDeg := m.upDeg(t, k), l.turnSD*180/math.Pi
		// farFrom says whether the points say another pitch.
		cameraDeg := turnDeg - m.way.facing*l.turnRad*180/math.Pi
		farFrom := func(upDeg float64) bool {
			apart := math.Abs(math.Remainder(line(i)-standDeg-(upDeg-cameraDeg), 360))
			return apart > apartDeg+apartPart*math.Abs(upDeg-cameraDeg)
		}
		upDeg, sd, ok := both(turnDeg, arcs[k], pixelSDDeg, l.correlation)
		ok = ok && (l.correlation >= arcAlike || !farFrom(upDeg))
		if !ok {
			if l.correlation < leastAlike ||
				l.correlation < alikeAlone && (!math.IsNaN(arcs[k]) || farFrom(turnDeg)) {
				continue
			}
			part := turnSDPart + unlikeSDPart*(1-l.correlation)
			upDeg = turnDeg
			sd = small * math.Hypot(math.Hypot(flatPictureSDDeg, part*upDeg), pixelSDs*pixelSDDeg)
		}
		t.Poses[i].FootPitch = &pose.FootPitch{Deg: -upDeg, SDDeg: sd, Correlation: l.correlation,
			Source: pose.FootPitchOfPicture}
	}
}
