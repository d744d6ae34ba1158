package report

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"holdfast/kinematics"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/words"
)

// WriteComparison writes a comparison into the folder dir: comparison.json,
// report.html and coach.pdf for the coach, athlete.html and athlete.pdf for the
// athlete, curves.svg, overlay.png (the first pair, and with several pairs one more
// a pair) and, with Options.Video, sidebyside.mp4 likewise. What a missing clip would
// have shown is left out with a warning.
//
// The error wraps ErrCannotWrite, ErrBusy or ErrNotOurs, the context's error when
// it ended, or what else went wrong; an earlier result in dir is then untouched.
func WriteComparison(ctx context.Context, dir string, c *screening.Comparison, opt Options) (Files, error) {
	if c == nil {
		return Files{}, errors.New("writing a comparison: there is none")
	}
	f, err := openFolder(dir, comparisonName)
	if err != nil {
		return Files{}, fmt.Errorf("writing the comparison: %w", err)
	}
	defer f.abort()
	files, err := writeComparison(ctx, f, c, opt)
	if err == nil {
		err = ctx.Err()
	}
	if err == nil {
		err = f.commit()
	}
	if err != nil {
		return Files{}, fmt.Errorf("writing the comparison: %w", err)
	}
	return files, nil
}

// comparisonName says whether a file belongs to the result of a comparison.
func comparisonName(name string) bool {
	switch name {
	case comparisonFile, "report.html", "athlete.html", "coach.pdf", "athlete.pdf", "curves.svg":
		return true
	}
	return strings.HasPrefix(name, "overlay") && strings.HasSuffix(name, ".png") ||
		strings.HasPrefix(name, "sidebyside") && strings.HasSuffix(name, ".mp4")
}

func writeComparison(ctx context.Context, f *folder, c *screening.Comparison, opt Options) (Files, error) {
	files := Files{Dir: f.target}
	final := func(name string) string { return filepath.Join(f.target, name) }
	if err := f.write(comparisonFile, func(w io.Writer) error { return printable.WriteJSON(w, withoutNil(c)) }); err != nil {
		return files, err
	}
	files.Comparison = final(comparisonFile)

	p := page{c: c, date: opt.Date}
	if p.curves = everyRep(c); p.curves != nil {
		if err := f.bytes("curves.svg", p.curves.file()); err != nil {
			return files, err
		}
		files.Curves = final("curves.svg")
	}
	for i := range c.Pairs {
		shown, err := writePair(ctx, f, c, i, opt, &files)
		if err != nil {
			return files, err
		}
		p.pairs = append(p.pairs, shown)
	}
	taken, warnings, err := takeShots(ctx, c, opt)
	if err != nil {
		return files, err
	}
	p.shots = taken
	p.warnings = append([]screening.Warning{}, c.Warnings...)
	p.warn(files.Warnings...)
	for _, w := range warnings {
		if !slices.ContainsFunc(files.Warnings, func(old screening.Warning) bool { return screening.Say(old) == screening.Say(w) }) {
			files.Warnings = append(files.Warnings, w)
		}
	}
	p.warn(warnings...)
	coach, athlete := p.sheet(), p.athlete()
	for _, written := range []struct {
		name string
		make func() ([]byte, error)
	}{
		{"report.html", coach.html},
		{"athlete.html", athlete.html},
		{"coach.pdf", func() ([]byte, error) { return coachPDF(coach, opt.Date) }},
		{"athlete.pdf", func() ([]byte, error) { return athletePDF(athlete, opt.Date) }},
	} {
		b, err := written.make()
		if err != nil {
			return files, fmt.Errorf("making %s: %w", written.name, err)
		}
		if err := f.bytes(written.name, b); err != nil {
			return files, err
		}
	}
	files.Report = final("report.html")
	files.Pages = []string{files.Report, final("athlete.html")}
	files.PDFs = []string{final("coach.pdf"), final("athlete.pdf")}
	return files, nil
}

// shownPair holds the pictures of a pair for the page; nil where there is none.
type shownPair struct {
	overlay, both []byte // JPEG
	video         string
}

// writePair writes the pictures and the video of one pair. The first pair's
// files have plain names; with several pairs each has files named after its
// conditions too.
func writePair(ctx context.Context, f *folder, c *screening.Comparison, i int, opt Options, files *Files) (shownPair, error) {
	pair := &c.Pairs[i]
	names := func(base, ext string) []string {
		var out []string
		if i == 0 {
			out = append(out, base+ext)
		}
		if len(c.Pairs) > 1 {
			out = append(out, fmt.Sprintf("%s_%s_%s%s", base, fileWord(pair.Baseline), fileWord(pair.Challenge), ext))
		}
		return out
	}
	d, shown, png, warning, err := pairPictures(ctx, c, i, opt)
	if d != nil {
		defer d.close()
	}
	if err != nil {
		return shown, err
	}
	if warning != nil {
		for _, w := range files.Warnings {
			if screening.Say(w) == screening.Say(*warning) {
				return shown, nil // said already for another pair
			}
		}
		files.Warnings = append(files.Warnings, *warning)
		return shown, nil
	}
	for _, name := range names("overlay", ".png") {
		if err := f.bytes(name, png); err != nil {
			return shown, err
		}
		files.Overlays = append(files.Overlays, filepath.Join(f.target, name))
		files.Overlay = files.Overlays[0]
	}
	if !opt.Video {
		return shown, nil
	}
	videos := names("sidebyside", ".mp4")
	last := videos[len(videos)-1]
	report := func(done, total int) {
		opt.Progress.Report(say("against", "easier", c.Word(pair.Baseline), "harder", c.Word(pair.Challenge)), done, total)
	}
	if err := d.video(ctx, f.path(last), report); err != nil {
		return shown, f.videoError(last, err)
	}
	for _, name := range videos {
		if name != last {
			// The same video under its second name.
			if err := keep(f.path(last), f.path(name)); err != nil {
				return shown, f.cannotWrite(name, err)
			}
		}
		files.SideBySide = append(files.SideBySide, filepath.Join(f.target, name))
	}
	shown.video = videos[0]
	return shown, nil
}

// pairPictures draws the stills of a pair: for the page, and the overlay as PNG. Where
// they cannot be drawn it says so in a warning. The caller closes the duel unless it
// is nil.
func pairPictures(ctx context.Context, c *screening.Comparison, i int, opt Options) (d *duel, shown shownPair, overlayPNG []byte, warning *screening.Warning, err error) {
	pair := &c.Pairs[i]
	d, err = newDuel(c, pair)
	if err != nil {
		return nil, shown, nil, &screening.Warning{Code: "no_pictures", Params: words.Params{
			"form": "pair", "easier": c.Word(pair.Baseline), "harder": c.Word(pair.Challenge), "reason": err.Error()}}, nil
	}
	d.blurFace = opt.BlurFace
	if err := d.stills(ctx); err != nil {
		var gone *clipGoneError
		if ctx.Err() == nil && errors.As(err, &gone) {
			return d, shown, nil, &gone.warning, nil
		}
		return d, shown, nil, nil, err
	}
	if overlayPNG, err = d.overlay.PNG(); err != nil {
		return d, shown, nil, nil, err
	}
	if shown.overlay, err = d.overlay.JPEG(86); err != nil {
		return d, shownPair{}, nil, nil, err
	}
	if shown.both, err = d.canvas.JPEG(86); err != nil {
		return d, shownPair{}, nil, nil, err
	}
	return d, shown, overlayPNG, nil, nil
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

// clipGoneError says that a clip of a comparison cannot be shown.
type clipGoneError struct{ warning screening.Warning }

func (e *clipGoneError) Error() string { return screening.Say(e.warning) }

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
	m     *motion
	rep   *kinematics.Rep
	color color.NRGBA
	clip  *vision.Clip
}

// duel shows the baseline's rep and the challenge's rep against each other, in
// the same body size and aligned at the bottom in place and time.
type duel struct {
	pair    *kinematics.Pair
	called  [2]string // what the sides are called
	sides   [2]side
	canvas  *vision.Canvas // the two side by side
	overlay *vision.Canvas // one over the other
	// blurFace takes all detail from both heads.
	blurFace bool
}

func newDuel(c *screening.Comparison, p *kinematics.Pair) (*duel, error) {
	d := &duel{pair: p, called: [2]string{c.Word(p.Baseline), c.Word(p.Challenge)}}
	for i, want := range []struct {
		clip, rep int
		key       string
	}{{p.BaselineClip, p.BaselineRep, p.Baseline}, {p.ChallengeClip, p.ChallengeRep, p.Challenge}} {
		if want.clip < 0 || want.clip >= len(c.Analyses) || c.Analyses[want.clip] == nil {
			return nil, errors.New("the analysis of its clip is not at hand")
		}
		a := c.Analyses[want.clip]
		s := side{m: newMotion(a), color: [places]color.NRGBA{skyBlue, orange, green, vermilion}[placeOf(c.Condition(want.key))]}
		for k := range a.Reps {
			if a.Reps[k].Number == want.rep {
				s.rep = &a.Reps[k]
			}
		}
		if s.rep == nil || math.IsNaN(s.rep.BottomS) {
			return nil, fmt.Errorf("%s has no rep %d with a bottom", a.Clip.Name, want.rep)
		}
		if math.IsNaN(s.m.legLengthPx(s.rep)) || s.m.point("ankle", s.rep.BottomS).Missing() {
			return nil, fmt.Errorf("the leg was not tracked at the bottom of rep %d of %s", want.rep, a.Clip.Name)
		}
		d.sides[i] = s
	}
	if d.sides[0].color == d.sides[1].color {
		d.sides[1].color = vermilion
	}
	var err error
	if d.canvas, err = vision.NewCanvas(duelW, duelH, ground); err != nil {
		return nil, err
	}
	if d.overlay, err = vision.NewCanvas(duelW, duelTop+overlayH, ground); err != nil {
		_ = d.canvas.Close()
		return nil, err
	}
	return d, nil
}

func (d *duel) close() {
	_ = d.canvas.Close()
	_ = d.overlay.Close()
}

// mapping moves places of a side's clip so that the leg has the given length and
// the ankle, at the bottom of the rep, the given place. The challenge is
// mirrored when it faces the other way.
func (d *duel) mapping(i int, legPx float64, ankleAt vision.XY) vision.Affine {
	s := &d.sides[i]
	k := legPx / s.m.legLengthPx(s.rep)
	kx := k
	if s.m.forward != d.sides[0].m.forward {
		kx = -k
	}
	at := s.m.point("ankle", s.rep.BottomS)
	return vision.Affine{A: kx, E: k, C: ankleAt.X - kx*at.X, F: ankleAt.Y - k*at.Y}
}

// panelMapping is the mapping into the side's panel. A standing athlete is about
// two leg lengths tall, a jump with raised arms three.
func (d *duel) panelMapping(i int) vision.Affine {
	x := float64(i*duelSideW) + duelSideW*(0.5-0.06*d.sides[0].m.forward)
	return d.mapping(i, 0.335*duelSideH, vision.XY{X: x, Y: duelTop + 0.86*duelSideH})
}

func (d *duel) overlayMapping(i int) vision.Affine {
	return d.mapping(i, 0.40*overlayH, vision.XY{X: duelW * (0.5 - 0.05*d.sides[0].m.forward), Y: duelTop + 0.86*overlayH})
}

// onFrame makes a mapping of the clip's places one of the frame's own, which may
// have been decoded smaller.
func onFrame(m vision.Affine, fr *vision.Frame) vision.Affine {
	k := fr.ScalePx
	if !(k > 0) {
		k = 1
	}
	return vision.Affine{A: m.A * k, B: m.B * k, C: m.C, D: m.D * k, E: m.E * k, F: m.F}
}

// player gives the frame of a clip at rising times.
type player struct {
	frames    *vision.Frames
	now, next *vision.Frame
	ended     bool
	heads     *vision.Heads // to be made unrecognisable; nil: none
	hidden    bool          // those of now
}

func (d *duel) play(ctx context.Context, i int) (*player, error) {
	s := &d.sides[i]
	if s.clip == nil {
		clip, err := openClip(ctx, s.m.a)
		if err != nil {
			return nil, d.gone(ctx, i, err)
		}
		s.clip = clip
	}
	frames, err := s.clip.FramesWithOptions(ctx, vision.FrameOptions{MaxSidePx: longestSidePx})
	if err != nil {
		return nil, d.gone(ctx, i, err)
	}
	p := &player{frames: frames}
	if d.blurFace {
		p.heads = s.m.heads(nil)
	}
	return p, nil
}

// gone wraps an error that only means that a clip cannot be shown.
func (d *duel) gone(ctx context.Context, i int, err error) error {
	if ctx.Err() == nil && (errors.Is(err, vision.ErrUnreadable) || errors.Is(err, vision.ErrNoVideo)) {
		return &clipGoneError{clipGone(d.sides[i].m.a, err)}
	}
	return err
}

// at returns the frame shown at a time of the file, which must not fall from call to call.
// The frame is the player's own and holds until the next call.
func (p *player) at(timeS float64) (*vision.Frame, error) {
	for {
		if p.next == nil && !p.ended {
			fr, err := p.frames.Next()
			switch {
			case errors.Is(err, io.EOF):
				p.ended = true
			case err != nil:
				return nil, err
			}
			p.next = fr
		}
		if p.next == nil || p.now != nil && p.next.TimeS > timeS+1e-6 {
			break
		}
		if p.now != nil {
			p.now.Close()
		}
		p.now, p.next, p.hidden = p.next, nil, false
	}
	if p.now == nil {
		return nil, fmt.Errorf("%w: it holds no frame", vision.ErrUnreadable)
	}
	if !p.hidden {
		if err := p.heads.Hide(p.now); err != nil {
			return nil, err
		}
		p.hidden = true
	}
	return p.now, nil
}

func (p *player) close() {
	for _, fr := range []*vision.Frame{p.now, p.next} {
		if fr != nil {
			fr.Close()
		}
	}
	_ = p.frames.Close()
}

// stills draws both pictures of the bottoms: side by side and overlaid.
func (d *duel) stills(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	second, err := vision.NewCanvas(duelW, duelTop+overlayH, ground)
	if err != nil {
		return err
	}
	defer second.Close()
	for i := range d.sides {
		if err := d.still(ctx, i, [...]*vision.Canvas{d.overlay, second}[i]); err != nil {
			return err
		}
	}
	if err := d.overlay.Blend(second, 0.5); err != nil {
		return err
	}
	d.drawOverlay()
	d.words(true)
	return nil
}

// still draws the bottom of one side into its panel and onto the overlay.
func (d *duel) still(ctx context.Context, i int, overlay *vision.Canvas) error {
	p, err := d.play(ctx, i)
	if err != nil {
		return err
	}
	defer p.close()
	s := &d.sides[i]
	fr, err := p.at(s.rep.BottomS * s.m.slow)
	if err != nil {
		return d.gone(ctx, i, err)
	}
	picture, err := vision.CanvasOf(fr)
	if err != nil {
		return err
	}
	to := onFrame(d.overlayMapping(i), fr)
	if err := overlay.DrawWarped(picture, to, image.Rect(0, duelTop, duelW, duelTop+overlayH), ground); err != nil {
		return err
	}
	return d.panel(i, fr, s.rep.BottomS, true)
}

// video writes the two reps side by side, slowed so that both can be read, and
// halted at the bottom.
func (d *duel) video(ctx context.Context, path string, report func(done, total int)) error {
	const rate, haltS = 30, 2.0
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var players [2]*player
	for i := range d.sides {
		p, err := d.play(ctx, i)
		if err != nil {
			return err
		}
		defer p.close()
		players[i] = p
	}
	out, err := vision.NewVideoWriter(ctx, path, duelW, duelH)
	if err != nil {
		return err
	}
	defer out.Abort()
	fromS, toS, speed := d.timing()
	before, halt, after := int(-fromS/speed*rate), int(haltS*rate), int(toS/speed*rate)
	total := before + halt + after
	for k := range total {
		sinceBottomS, halted := 0.0, false
		switch {
		case k < before:
			sinceBottomS = float64(k-before) * speed / rate
		case k < before+halt:
			halted = true
		default:
			sinceBottomS = float64(k-before-halt) * speed / rate
		}
		// The halt is one picture; it need not be drawn again.
		if !halted || k == before {
			for i := range d.sides {
				s := &d.sides[i]
				t := math.Max(s.rep.StartS, math.Min(s.rep.EndS, s.rep.BottomS+sinceBottomS))
				fr, err := players[i].at(t * s.m.slow)
				if err != nil {
					return err
				}
				if err := d.panel(i, fr, t, halted); err != nil {
					return err
				}
			}
			d.words(halted)
		}
		if err := out.Write(d.canvas, float64(k)/rate); err != nil {
			return err
		}
		report(k+1, total)
	}
	return out.Close()
}

// timing returns how long before and after the bottom is shown and at which
// part of the real speed: a quarter when both reps are short, else a half.
func (d *duel) timing() (fromS, toS, speed float64) {
	const longest = 4.0 // seconds on each side of the bottom
	for i := range d.sides {
		r := d.sides[i].rep
		fromS = math.Min(fromS, r.StartS-r.BottomS)
		toS = math.Max(toS, r.EndS-r.BottomS)
	}
	fromS, toS = math.Max(fromS, -longest), math.Min(toS, longest)
	if toS-fromS <= 3 {
		return fromS, toS, 0.25
	}
	return fromS, toS, 0.5
}

// panel draws one side at a time. Halted at the bottom, the challenge shows the
// baseline's lines too, and what is missing at each joint.
func (d *duel) panel(i int, fr *vision.Frame, timeS float64, halted bool) error {
	c := d.canvas
	picture, err := vision.CanvasOf(fr)
	if err != nil {
		return err
	}
	r := image.Rect(i*duelSideW, duelTop, (i+1)*duelSideW, duelTop+duelSideH)
	to := d.panelMapping(i)
	if err := c.DrawWarped(picture, onFrame(to, fr), r, ground); err != nil {
		return err
	}
	s := &d.sides[i]
	b := s.m.bodyAt(timeS, to)
	for j := range numJoints {
		b.arc(c, j, duelUnit)
	}
	if halted && i == 1 {
		base := &d.sides[0]
		shift := d.mapping(0, 0.335*duelSideH, vision.XY{X: d.panelMapping(1).Apply(s.m.point("ankle", s.rep.BottomS)).X, Y: duelTop + 0.86*duelSideH})
		ghost := base.m.bodyAt(base.rep.BottomS, shift)
		ghost.skeleton(c, skeletonStyle{unit: duelUnit * 0.9, color: base.color, dashed: true})
	}
	b.skeleton(c, skeletonStyle{unit: duelUnit, color: paper, markers: true})
	box := [4]float64{float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)}
	for _, l := range b.jointLabels(func(j joint) (string, string) {
		if math.IsNaN(b.deg[j]) {
			return "", ""
		}
		second := ""
		if ch := &d.pair.Joints[j]; halted && i == 1 {
			second = difference("difference_label", ch.BottomLostDeg, ch.BottomInterval95Deg)
		}
		return j.name() + " " + degrees(b.deg[j]), second
	}, duelUnit, box) {
		l.draw(c, duelUnit)
	}
	return nil
}

// words writes the names of the sides above the pictures and the table of what
// was lost below.
func (d *duel) words(halted bool) {
	c, u := d.canvas, duelUnit
	c.Rect(0, 0, duelW, duelTop, ground)
	_, _, speed := d.timing()
	title := say("duel_title", "speed", 1/speed)
	if halted {
		title = say("duel_halted")
	}
	c.Text(vision.XY{X: 9 * u, Y: 27}, title, vision.TextStyle{SizePx: 12.5 * u, Color: quiet, Middle: true})
	d.names(c)
	c.Rect(duelSideW-1, duelTop, 3, duelSideH, ground)

	top := duelTop + duelSideH
	c.Rect(0, top, duelW, duelH-top, ground)
	columns := []float64{20, 330, 500, 1062}
	head := vision.TextStyle{SizePx: 11.5 * u, Color: quiet, Middle: true}
	y := float64(top) + 8 + duelRow/2
	right := func(st vision.TextStyle) vision.TextStyle { st.AlignX = 1; return st }
	c.Text(vision.XY{X: columns[0], Y: y}, say("duel_range"), head)
	c.Text(vision.XY{X: columns[1] + 60, Y: y}, d.called[0], right(head))
	c.Text(vision.XY{X: columns[2] + 60, Y: y}, d.called[1], right(head))
	c.Text(vision.XY{X: columns[3], Y: y}, say("duel_change"), right(head))
	body := vision.TextStyle{SizePx: 13.5 * u, Bold: true, Color: paper, Middle: true}
	for k, j := range []joint{ankle, knee, hip} {
		y := float64(top) + 8 + duelRow*(float64(k)+1.5)
		ch := &d.pair.Joints[j]
		marker(c, j, vision.XY{X: columns[0] + 10, Y: y}, 4*u, false)
		c.Text(vision.XY{X: columns[0] + 32, Y: y}, j.name(), body)
		c.Text(vision.XY{X: columns[1] + 60, Y: y}, degrees(ch.BaselineROMDeg), right(body))
		c.Text(vision.XY{X: columns[2] + 60, Y: y}, degrees(ch.ChallengeROMDeg), right(body))
		words := say("not_measured")
		if !math.IsNaN(ch.LostDeg) {
			words = changeWords(ch)
		}
		c.Text(vision.XY{X: columns[3], Y: y}, words, right(body))
	}
}

// names writes the two tempos over their halves, each underlined in its colour:
// unbroken the baseline, dashed the challenge.
func (d *duel) names(c *vision.Canvas) {
	u := duelUnit
	for i := range d.sides {
		s := &d.sides[i]
		x := float64(i*duelSideW) + 9*u
		name := say("duel_side", "of", capital(d.called[i]), "rep", s.rep.Number)
		if s.m.forward != d.sides[0].m.forward {
			name = say("duel_mirrored", "name", name)
		}
		c.Text(vision.XY{X: x, Y: 68}, name, vision.TextStyle{SizePx: 15 * u, Bold: true, Color: paper, Middle: true})
		st := vision.Stroke{WidthPx: 6, Color: s.color}
		if i == 1 {
			st.Dash = []float64{20, 16}
		}
		c.Line(vision.XY{X: x, Y: duelTop - 9}, vision.XY{X: float64((i+1)*duelSideW) - 9*u, Y: duelTop - 9}, st)
	}
}

// drawOverlay draws the lines of both bodies over the mixed pictures, with what
// is missing at each joint.
func (d *duel) drawOverlay() {
	c := d.overlay
	c.Rect(0, 0, duelW, duelTop, ground)
	c.Text(vision.XY{X: 9 * duelUnit, Y: 27}, say("duel_overlay"),
		vision.TextStyle{SizePx: 12.5 * duelUnit, Color: quiet, Middle: true})
	d.names(c)
	// A veil lets the lines stand out from two mixed rooms.
	c.Rect(0, duelTop, duelW, overlayH, color.NRGBA{0x17, 0x1B, 0x21, 90})
	var bodies [2]fitted
	for i := range d.sides {
		s := &d.sides[i]
		bodies[i] = s.m.bodyAt(s.rep.BottomS, d.overlayMapping(i))
		bodies[i].skeleton(c, skeletonStyle{unit: duelUnit * 1.5, color: s.color, dashed: i == 1})
	}
	// The labels go with whichever body is further out on that side.
	mid := bodies[0]
	mid.points = map[string]vision.XY{}
	for j := range numJoints {
		p, ok1 := bodies[0].points[j.landmark()]
		q, ok2 := bodies[1].points[j.landmark()]
		if !ok1 || !ok2 {
			continue
		}
		outer := math.Max
		if (j == knee) != (mid.forward > 0) {
			outer = math.Min
		}
		mid.points[j.landmark()] = vision.XY{X: outer(p.X, q.X), Y: (p.Y + q.Y) / 2}
	}
	for _, l := range mid.jointLabels(func(j joint) (string, string) {
		ch := &d.pair.Joints[j]
		return fmt.Sprintf("%s %s → %s", j.name(), bottomDegrees(ch.BaselineBottomDeg, ch.BaselineZeroKnown),
				bottomDegrees(ch.ChallengeBottomDeg, ch.ChallengeZeroKnown)),
			difference("difference_label", ch.BottomLostDeg, ch.BottomInterval95Deg)
	}, duelUnit*1.1, [4]float64{0, duelTop, duelW, duelTop + overlayH}) {
		l.draw(c, duelUnit*1.1)
	}
}

func capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}
