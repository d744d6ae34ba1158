package sidebyside

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/report/drawn"
	"holdfast/report/motion"
	"holdfast/report/resultdir"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/screening/headline"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
	"holdfast/words"
)

// ShownPair holds the pictures of a pair for the page; nil where there is none.
type ShownPair struct {
	Overlay, Both []byte // JPEG
	Video         string
	// Landing says that the harder rep is shown in its landing.
	Landing bool
}

// Files are what was written of a pair: the names of its files, the first one plain where it has one, and
// its pictures for the page; with a warning in place of all that where its clips cannot be shown.
type Files struct {
	Overlays, SideBySide []string
	Shown                ShownPair
	Warning              *screening.Warning
}

// Options are the choices for the pictures of a comparison.
type Options struct {
	// Video asks for a video of each pair besides the pictures.
	Video bool
	// BlurFace takes all detail from the athletes' heads.
	BlurFace bool
	// Progress is told how far the work has come.
	Progress media.Progress
}

// Written is what was made of a comparison: of each pair, and the shots for the pages, with warnings where clips of
// theirs are gone.
type Written struct {
	Pairs    []Files
	Shots    Shots
	Warnings []screening.Warning
}

// Write writes the pictures of all pairs into a result's folder, and with video their videos, and draws the shots.
// The first pair's files have plain names; with several pairs each has files named after its conditions too.
func Write(ctx context.Context, f *resultdir.Folder, c *screening.Comparison, opt Options) (Written, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	out := Written{Pairs: make([]Files, len(c.Pairs))}
	r := &reading{c: c, blurFace: opt.BlurFace}
	duels := make([]*duel, len(c.Pairs))
	for i := range c.Pairs {
		d, err := newDuel(c, &c.Pairs[i])
		if err != nil {
			out.Pairs[i].Warning = &screening.Warning{Code: "no_pictures", Params: words.Params{
				"form": "pair", "easier": c.Word(c.Pairs[i].Baseline), "harder": c.Word(c.Pairs[i].Challenge),
				"reason": err.Error()}}
			continue
		}
		defer d.close()
		duels[i] = d
		if opt.Video {
			name := pairFile(c, i, "sidebyside", ".mp4")
			d.newFilm = func() (*media.VideoWriter, error) {
				return media.NewVideoWriter(ctx, f.Path(name), duelW, duelH)
			}
			d.filmError = func(err error) error { return f.VideoError(name, err) }
		}
		d.ask(r)
	}
	shots, err := planShots(c).ask(r)
	if err != nil {
		return out, err
	}
	defer shots.close()
	if err := r.run(ctx, opt.Progress); err != nil {
		return out, err
	}
	for i, d := range duels {
		if d == nil {
			continue
		}
		if out.Pairs[i], err = d.write(f, c, i); err != nil {
			return out, err
		}
	}
	out.Shots, out.Warnings = shots.Shots, shots.gone()
	return out, nil
}

// pairFile is the name of a file of a pair: plain where there is no other pair.
func pairFile(c *screening.Comparison, i int, base, ext string) string {
	if len(c.Pairs) == 1 {
		return base + ext
	}
	return fmt.Sprintf("%s_%s_%s%s", base, fileWord(c.Pairs[i].Baseline), fileWord(c.Pairs[i].Challenge), ext)
}

// write puts what was drawn of a pair into the folder.
func (d *duel) write(f *resultdir.Folder, c *screening.Comparison, i int) (out Files, err error) {
	for _, s := range d.read {
		if s.gone != nil {
			return Files{Warning: s.gone}, nil
		}
	}
	// The first pair has its files under a second, plain name.
	names := func(base, ext string) []string {
		named := pairFile(c, i, base, ext)
		if i == 0 && named != base+ext {
			return []string{base + ext, named}
		}
		return []string{named}
	}
	out.Shown = d.drawn
	out.Overlays = names("overlay", ".png")
	for _, name := range out.Overlays {
		if err := f.Bytes(name, d.overlayPNG); err != nil {
			return out, err
		}
	}
	if d.film == nil {
		return out, nil
	}
	last := pairFile(c, i, "sidebyside", ".mp4")
	if err := d.film.Close(); err != nil {
		return out, d.filmError(err)
	}
	out.SideBySide = names("sidebyside", ".mp4")
	for _, name := range out.SideBySide {
		if name != last {
			if err := resultdir.Keep(f.Path(last), f.Path(name)); err != nil {
				return out, f.CannotWrite(name, err)
			}
		}
	}
	out.Shown.Video = out.SideBySide[0]
	return out, nil
}

// fileWord keeps letters and digits of a word that goes into a file name.
func fileWord(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' {
			return r
		}
		return '-'
	}, s)
}

// The places of the picture that shows two reps side by side.
const (
	duelW     = 1080
	duelTop   = 104 // the line of words and the names of the sides
	duelSideW = duelW / 2
	duelSideH = 800
	duelUnit  = 2.2
	duelRow   = 40
	duelH     = duelTop + duelSideH + 4*duelRow + 16
	overlayH  = 1080
)

// side is one of the two reps shown against each other.
type side struct {
	m     *motion.Motion
	rep   *kinematics.Rep
	color color.NRGBA
	clip  int // its number in the comparison
	// lowS is when the rep is lowest, and landing says that this is the bottom of its landing: where
	// positions are read in landings, they are shown there.
	lowS    float64
	landing bool
}

// duel shows the baseline's rep and the challenge's rep against each other, in
// the same body size and aligned at the lowest moment in place and time.
type duel struct {
	pair   *kinematics.Pair
	joints []said.Joint // that are compared
	// turnAlone is what the turn is called where nothing else is compared.
	turnAlone string
	shown     [said.NumJoints]shownChange
	called    [2]string // what the sides are called
	sides     [2]side
	canvas    *paint.Canvas    // the two side by side
	worded    [2]*paint.Canvas // what stands above and below them, running and halted; nil until it is needed
	read      [2]*source
	// newFilm starts the video, nil where there is none; film is it once it has begun, and filmError says of an error
	// which file it kept from being written.
	newFilm   func() (*media.VideoWriter, error)
	film      *media.VideoWriter
	filmError func(error) error
	// What was drawn at the bottom.
	drawn      ShownPair
	overlayPNG []byte
}

func (d *duel) close() {
	for _, c := range []*paint.Canvas{d.canvas, d.worded[0], d.worded[1]} {
		_ = c.Close()
	}
	if d.film != nil {
		d.film.Abort()
	}
}

// mapping moves places of a side's clip so that the leg has the given length and
// the ankle, at the bottom of the rep, the given place. The challenge is
// mirrored when it faces the other way.
func (d *duel) mapping(i int, legPx float64, ankleAt plane.XY) plane.Affine {
	s := &d.sides[i]
	k := legPx / s.m.LegLengthPx(s.rep)
	kx := k
	if s.m.Forward != d.sides[0].m.Forward {
		kx = -k
	}
	at := s.m.Point("ankle", s.lowS)
	return plane.Affine{A: kx, E: k, C: ankleAt.X - kx*at.X, F: ankleAt.Y - k*at.Y}
}

// panelMapping is the mapping into the side's panel. A standing athlete is about
// two leg lengths tall, a jump with raised arms three.
func (d *duel) panelMapping(i int) plane.Affine {
	x := float64(i*duelSideW) + duelSideW*(0.5-0.06*d.sides[0].m.Forward)
	return d.mapping(i, d.fitting(0.335*duelSideH, 0.86*duelSideH), plane.XY{X: x, Y: duelTop + 0.86*duelSideH})
}

func (d *duel) overlayMapping(i int) plane.Affine {
	at := plane.XY{X: duelW * (0.5 - 0.05*d.sides[0].m.Forward), Y: duelTop + 0.86*overlayH}
	return d.mapping(i, d.fitting(0.40*overlayH, 0.86*overlayH), at)
}

// fitting is the length of the leg, at most what is wanted, with which hands overhead are within the picture's height
// over the ankle.
func (d *duel) fitting(legPx, heightPx float64) float64 {
	for i := range d.sides {
		s := &d.sides[i]
		legPx = min(legPx, heightPx/max(s.m.Reach(s.rep), heightPx/legPx))
	}
	return legPx
}

// turn is what the turn of the movement is called.
func (d *duel) turn() string {
	if d.sides[0].landing && d.sides[1].landing {
		return "landing"
	}
	return d.sides[0].m.Analysis.Movement.Turn
}

// form says in which words the moments are told.
func (d *duel) form() string {
	if d.sides[1].landing && !d.sides[0].landing {
		return "landing"
	}
	return "bottom"
}

// shownChange is what the pictures say of a joint's position: its mean in both conditions, and what is lost.
type shownChange struct{ positions, difference string }

// changesOf are what is said of each joint's position between the two conditions of a pair, where landing says that
// the harder one is shown in its landing: of that the headlines have the numbers.
func changesOf(c *screening.Comparison, p *kinematics.Pair, landing bool) (out [said.NumJoints]shownChange) {
	for _, j := range said.JointsIn(c) {
		ch := &p.Joints[j]
		from, to := said.BottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown),
			said.BottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown)
		lost := said.Difference("difference_label", ch.BottomLostDeg, ch.BottomInterval95Deg)
		easier, harder := stepOf(c, j, p.Baseline), stepOf(c, j, p.Challenge)
		if landing && easier != nil && harder != nil {
			from, to = said.BottomDegrees(easier.Deg, easier.ZeroKnown), said.BottomDegrees(harder.Deg, harder.ZeroKnown)
			switch l := c.Landing; {
			case easier.Code == "":
				lost = said.Difference("difference_label", harder.LostDeg, harder.LostInterval95Deg)
			case l != nil && l.AgainstFast != nil && p.Baseline == kinematics.ConditionOf(events.TempoFast).Key:
				lost = said.Difference("difference_label", l.AgainstFast[j].Lost, l.AgainstFast[j].Interval95)
			default:
				lost = "" // nothing else is compared with landings
			}
		}
		out[j] = shownChange{from + " → " + to, lost}
	}
	return out
}

// stepOf returns what the headline says of a joint's position in a condition; nil where it says nothing.
func stepOf(c *screening.Comparison, j said.Joint, condition string) *headline.Step {
	for i := range c.Headlines {
		if h := &c.Headlines[i]; h.Joint == body.Joint(j).String() {
			for k := range h.Position.Steps {
				if h.Position.Steps[k].Condition == condition {
					return &h.Position.Steps[k]
				}
			}
		}
	}
	return nil
}

// ask plans the pictures of the bottoms, and in a video all the way there and back, slowed so that both reps can be
// read, and halted at the bottom.
func (d *duel) ask(r *reading) {
	for i := range d.sides {
		s := &d.sides[i]
		d.read[i] = r.of(s.clip, s.m, s.rep, s.lowS)
	}
	at := func(sinceLowS float64, halted bool, shownS ...float64) {
		mo := moment{sinceLowS: sinceLowS, of: d.read[:]}
		for i := range d.sides {
			s := &d.sides[i]
			mo.timesS = append(mo.timesS, math.Max(s.rep.StartS, math.Min(s.rep.EndS, s.lowS+sinceLowS)))
		}
		mo.draw = func(frames []*media.Frame) error { return d.draw(frames, mo.timesS, halted, shownS) }
		r.ask(mo)
	}
	if d.newFilm == nil {
		at(0, true)
		return
	}
	const haltS = 2.0
	fromS, toS, speed := d.timing()
	rate := d.rate(speed)
	before, halt, after := int(-fromS/speed*rate), int(haltS*rate), int(toS/speed*rate)
	for k := range before {
		at(float64(k-before)*speed/rate, false, float64(k)/rate)
	}
	var halted []float64
	// Of a picture that stands still a few are enough for players that jump about.
	for k := 0; k < halt; k += max(1, int(rate/10)) {
		halted = append(halted, float64(before+k)/rate)
	}
	at(0, true, halted...)
	for k := range after {
		at(float64(k)*speed/rate, false, float64(before+halt+k)/rate)
	}
}

// draw draws both sides at a moment, and adds them to the video at the times at which it shows them.
func (d *duel) draw(frames []*media.Frame, timesS []float64, halted bool, shownS []float64) error {
	for i, fr := range frames {
		if err := d.panel(i, fr, timesS[i], halted); err != nil {
			return err
		}
	}
	if err := d.words(halted); err != nil {
		return err
	}
	if halted {
		if err := d.stills(frames); err != nil {
			return err
		}
	}
	for _, s := range shownS {
		if d.film == nil {
			var err error
			if d.film, err = d.newFilm(); err != nil {
				return d.filmError(err)
			}
		}
		if err := d.film.Write(d.canvas, s); err != nil {
			return d.filmError(err)
		}
	}
	return nil
}

// stills keeps both pictures of the bottoms: side by side, as just drawn, and overlaid.
func (d *duel) stills(frames []*media.Frame) (err error) {
	if d.drawn.Both, err = d.canvas.JPEG(86); err != nil {
		return err
	}
	d.drawn.Landing = d.sides[1].landing
	var layers [2]*paint.Canvas
	for i, fr := range frames {
		if layers[i], err = paint.NewCanvas(duelW, duelTop+overlayH, drawn.Ground); err != nil {
			return err
		}
		defer layers[i].Close()
		picture, err := fr.Canvas()
		if err != nil {
			return err
		}
		to := motion.OnFrame(d.overlayMapping(i), fr)
		if err := layers[i].DrawWarped(picture, to, image.Rect(0, duelTop, duelW, duelTop+overlayH),
			drawn.Ground); err != nil {
			return err
		}
	}
	if err := layers[0].Blend(layers[1], 0.5); err != nil {
		return err
	}
	d.drawOverlay(layers[0])
	if d.overlayPNG, err = layers[0].PNG(); err != nil {
		return err
	}
	d.drawn.Overlay, err = layers[0].JPEG(86)
	return err
}

// timing returns how long before and after the bottom is shown and at which
// part of the real speed: a quarter when both reps are short, else a half.
func (d *duel) timing() (fromS, toS, speed float64) {
	const longest = 4.0 // seconds on each side of the bottom
	for i := range d.sides {
		r := d.sides[i].rep
		fromS = math.Min(fromS, r.StartS-d.sides[i].lowS)
		toS = math.Max(toS, r.EndS-d.sides[i].lowS)
	}
	fromS, toS = math.Max(fromS, -longest), math.Min(toS, longest)
	if toS-fromS <= 3 {
		return fromS, toS, 0.25
	}
	return fromS, toS, 0.5
}

// rate is how many pictures a second the video has at a part of the real speed: as many as the clips hold, 30 at most,
// and 10 at least, as players jump about badly with fewer.
func (d *duel) rate(speed float64) float64 {
	rate := 10.0
	for i := range d.sides {
		s := &d.sides[i]
		rate = max(rate, min(30, math.Round(s.m.Analysis.Clip.FrameRateHz*s.m.Slowdown*speed)))
	}
	return rate
}

// panel draws one side at a time. Halted at the bottom, the challenge shows the
// baseline's lines too, and what is missing at each joint.
func (d *duel) panel(i int, fr *media.Frame, timeS float64, halted bool) error {
	c := d.canvas
	picture, err := fr.Canvas()
	if err != nil {
		return err
	}
	r := image.Rect(i*duelSideW, duelTop, (i+1)*duelSideW, duelTop+duelSideH)
	to := d.panelMapping(i)
	if err := c.DrawWarped(picture, motion.OnFrame(to, fr), r, drawn.Ground); err != nil {
		return err
	}
	s := &d.sides[i]
	b := drawn.AthleteAt(s.m, timeS, to)
	for _, j := range b.Joints {
		b.Arc(c, j, duelUnit)
	}
	if halted && i == 1 {
		base := &d.sides[0]
		ankle := d.panelMapping(1).Apply(s.m.Point("ankle", s.lowS))
		shift := d.mapping(0, 0.335*duelSideH, plane.XY{X: ankle.X, Y: duelTop + 0.86*duelSideH})
		ghost := drawn.AthleteAt(base.m, base.lowS, shift)
		ghost.Skeleton(c, drawn.SkeletonStyle{Unit: duelUnit * 0.9, Color: base.color, Dashed: true})
	}
	b.Skeleton(c, drawn.SkeletonStyle{Unit: duelUnit, Color: drawn.Paper, Markers: true})
	box := [4]float64{float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)}
	for _, l := range b.JointLabels(func(j said.Joint) (string, string) {
		if math.IsNaN(b.Deg[j]) {
			return "", ""
		}
		second := ""
		if halted && i == 1 {
			second = d.shown[j].difference
		}
		return j.Name() + " " + said.Degrees(b.Deg[j]), second
	}, duelUnit, box) {
		l.Draw(c, duelUnit)
	}
	return nil
}

// words writes the names of the sides above the pictures and the table of what
// was lost below.
func (d *duel) words(halted bool) error {
	k := 0
	if halted {
		k = 1
	}
	if d.worded[k] == nil {
		c, err := paint.NewCanvas(duelW, duelH, drawn.Ground)
		if err != nil {
			return err
		}
		d.word(c, halted)
		d.worded[k] = c
	}
	for _, r := range []image.Rectangle{image.Rect(0, 0, duelW, duelTop), image.Rect(0, duelTop+duelSideH, duelW, duelH)} {
		d.canvas.DrawPart(d.worded[k], r, r.Min.X, r.Min.Y)
	}
	d.canvas.Rect(duelSideW-1, duelTop, 3, duelSideH, drawn.Ground)
	return nil
}

// word writes them on an empty picture.
func (d *duel) word(c *paint.Canvas, halted bool) {
	u := duelUnit
	_, _, speed := d.timing()
	title := said.Say("duel_title", "form", d.form(), "turn", d.turn(), "speed", 1/speed)
	if halted {
		title = said.Say("duel_halted", "form", d.form(), "turn", d.turn())
	}
	c.Text(plane.XY{X: 9 * u, Y: 27}, title, paint.TextStyle{SizePx: 12.5 * u, Color: drawn.QuietColor, Middle: true})
	d.names(c)
	top := duelTop + duelSideH
	columns := []float64{20, 330, 500, 1062}
	head := paint.TextStyle{SizePx: 11.5 * u, Color: drawn.QuietColor, Middle: true}
	y := float64(top) + 8 + duelRow/2
	right := func(st paint.TextStyle) paint.TextStyle { st.AlignX = 1; return st }
	room := columns[2] - columns[1] - 16
	title, rows := d.table()
	c.Fit(plane.XY{X: columns[0], Y: y}, title, head, columns[1]+60-columns[0]-room-16)
	c.Fit(plane.XY{X: columns[1] + 60, Y: y}, d.called[0], right(head), room)
	c.Fit(plane.XY{X: columns[2] + 60, Y: y}, d.called[1], right(head), room)
	c.Text(plane.XY{X: columns[3], Y: y}, said.Say("duel_change"), right(head))
	body := paint.TextStyle{SizePx: 13.5 * u, Bold: true, Color: drawn.Paper, Middle: true}
	for k, r := range rows {
		y := float64(top) + 8 + duelRow*(float64(k)+1.5)
		drawn.Marker(c, r.joint, plane.XY{X: columns[0] + 10, Y: y}, 4*u, false)
		c.Text(plane.XY{X: columns[0] + 32, Y: y}, r.joint.Name(), body)
		c.Text(plane.XY{X: columns[1] + 60, Y: y}, r.easier, right(body))
		c.Text(plane.XY{X: columns[2] + 60, Y: y}, r.harder, right(body))
		c.Text(plane.XY{X: columns[3], Y: y}, r.change, right(body))
	}
}

// tableRow is what the table under the pictures says of a joint.
type tableRow struct {
	joint                  said.Joint
	easier, harder, change string
}

// table returns the heading and the rows of the table under the pictures: ranges of motion, or the positions where
// nothing but the turn is compared.
func (d *duel) table() (title string, rows []tableRow) {
	if d.turnAlone != "" {
		for _, j := range d.joints {
			ch := &d.pair.Joints[j]
			rows = append(rows, tableRow{j, said.BottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown),
				said.BottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown), d.shown[j].difference})
		}
		return said.Capital(d.turnAlone), rows
	}
	for _, j := range d.joints {
		ch := &d.pair.Joints[j]
		change := said.ChangeWords(ch)
		switch {
		case math.IsNaN(ch.BaselineROMDeg) || math.IsNaN(ch.ChallengeROMDeg):
			change = said.Say("not_measured")
		case math.IsNaN(ch.LostDeg):
			change = said.Say("duel_not_compared")
		}
		rows = append(rows, tableRow{j, said.Degrees(ch.BaselineROMDeg), said.Degrees(ch.ChallengeROMDeg), change})
	}
	return said.Say("duel_range"), rows
}

// names writes the two tempos over their halves, each underlined in its colour:
// unbroken the baseline, dashed the challenge.
func (d *duel) names(c *paint.Canvas) {
	u := duelUnit
	for i := range d.sides {
		s := &d.sides[i]
		x := float64(i*duelSideW) + 9*u
		name := said.Say("duel_side", "of", said.Capital(d.called[i]), "rep", s.rep.Number)
		if s.m.Forward != d.sides[0].m.Forward {
			name = said.Say("duel_mirrored", "name", name)
		}
		c.Fit(plane.XY{X: x, Y: 68}, name, paint.TextStyle{SizePx: 15 * u, Bold: true, Color: drawn.Paper, Middle: true},
			duelSideW-18*u)
		st := paint.Stroke{WidthPx: 6, Color: s.color}
		if i == 1 {
			st.Dash = []float64{20, 16}
		}
		c.Line(plane.XY{X: x, Y: duelTop - 9}, plane.XY{X: float64((i+1)*duelSideW) - 9*u, Y: duelTop - 9}, st)
	}
}

// drawOverlay draws the lines of both bodies over the mixed pictures, with what
// is missing at each joint.
func (d *duel) drawOverlay(c *paint.Canvas) {
	c.Rect(0, 0, duelW, duelTop, drawn.Ground)
	c.Text(plane.XY{X: 9 * duelUnit, Y: 27}, said.Say("duel_overlay", "form", d.form(), "turn", d.turn()),
		paint.TextStyle{SizePx: 12.5 * duelUnit, Color: drawn.QuietColor, Middle: true})
	d.names(c)
	// A veil lets the lines stand out from two mixed rooms.
	c.Rect(0, duelTop, duelW, overlayH, color.NRGBA{0x17, 0x1B, 0x21, 90})
	var bodies [2]drawn.Athlete
	for i := range d.sides {
		s := &d.sides[i]
		bodies[i] = drawn.AthleteAt(s.m, s.lowS, d.overlayMapping(i))
		bodies[i].Skeleton(c, drawn.SkeletonStyle{Unit: duelUnit * 1.5, Color: s.color, Dashed: i == 1})
	}
	// The labels go with whichever body is further out on that side.
	mid := bodies[0]
	mid.Points = map[string]plane.XY{}
	mid.Joints = slices.DeleteFunc(slices.Clone(mid.Joints), func(j said.Joint) bool { return d.shown[j].positions == "" })
	for _, j := range mid.Joints {
		p, ok1 := bodies[0].Points[j.Landmark()]
		q, ok2 := bodies[1].Points[j.Landmark()]
		if !ok1 || !ok2 {
			continue
		}
		outer := math.Max
		if drawn.LabelInFront(j) != (mid.Forward > 0) {
			outer = math.Min
		}
		mid.Points[j.Landmark()] = plane.XY{X: outer(p.X, q.X), Y: (p.Y + q.Y) / 2}
	}
	for _, l := range mid.JointLabels(func(j said.Joint) (string, string) {
		return j.Name() + " " + d.shown[j].positions, d.shown[j].difference
	}, duelUnit*1.1, [4]float64{0, duelTop, duelW, duelTop + overlayH}) {
		l.Draw(c, duelUnit*1.1)
	}
}

func newDuel(c *screening.Comparison, p *kinematics.Pair) (*duel, error) {
	d := &duel{pair: p, joints: said.JointsIn(c), called: [2]string{c.Word(p.Baseline), c.Word(p.Challenge)}}
	if c.TurnOnly {
		d.turnAlone = said.HeadAtBottom(c)
	}
	for i, want := range []struct {
		clip, rep int
		key       string
	}{{p.BaselineClip, p.BaselineRep, p.Baseline}, {p.ChallengeClip, p.ChallengeRep, p.Challenge}} {
		if want.clip < 0 || want.clip >= len(c.Analyses) || c.Analyses[want.clip] == nil {
			return nil, errors.New(said.Say("pair_no_clip"))
		}
		a := c.Analyses[want.clip]
		lacks := func(key string) error {
			return errors.New(said.Say(key, "clip", a.Clip.Name, "rep", want.rep, "turn", a.Movement.Turn))
		}
		colors := [said.Places]color.NRGBA{drawn.SkyBlue, drawn.Orange, drawn.Green, drawn.Vermilion}
		s := side{m: motion.New(a), clip: want.clip, color: colors[said.PlaceOf(c.Condition(want.key))]}
		for k := range a.Reps {
			if a.Reps[k].Number == want.rep {
				s.rep = &a.Reps[k]
			}
		}
		if s.rep == nil || math.IsNaN(s.rep.BottomS) {
			return nil, lacks("pair_no_turn")
		}
		s.lowS = s.rep.BottomS
		if at := s.rep.LandingBottomS; s.rep.HasFlight() && c.Ladder.AtLanding(want.key) &&
			!s.m.Point("ankle", at).Missing() {
			s.lowS, s.landing = at, true
		}
		if math.IsNaN(s.m.LegLengthPx(s.rep)) || s.m.Point("ankle", s.lowS).Missing() {
			return nil, lacks("pair_no_leg")
		}
		d.sides[i] = s
	}
	if d.sides[0].color == d.sides[1].color {
		d.sides[1].color = drawn.Vermilion
	}
	d.shown = changesOf(c, p, d.sides[1].landing)
	var err error
	if d.canvas, err = paint.NewCanvas(duelW, duelH, drawn.Ground); err != nil {
		return nil, err
	}
	return d, nil
}
