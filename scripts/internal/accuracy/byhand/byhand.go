// Package byhand compares clips of real athletes with points that a person marked in single frames.
package byhand

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/screening"
	"holdfast/scripts/internal/accuracy/figures"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// realFolder holds the track of a clip of a real athlete, and points marked by hand in it.
const realFolder = "testdata/real"

// handErrorDeg is how far off an angle of the marks may be: two passes of one person differ by 1 to 2 degrees, and
// the folds of clothes hide more than that.
const handErrorDeg = 3

// mark is what a person marked in one frame of a clip.
type mark struct {
	frame  int
	kind   string // "stand", "bottom", "landing"; others are left out
	facing body.Facing
	points body.Limb // NaN where it was not seen
}

// markOrder is how the points stand in a line of marks.
var markOrder = [...]body.Landmark{body.Shoulder, body.Hip, body.Knee, body.Ankle, body.Heel, body.Toe}

// readMarks reads lines of "clip frame kind facing" and six points, see testdata/real/README.md, by clip.
func readMarks(r io.Reader) (map[string][]mark, error) {
	marks := map[string][]mark{}
	lines := bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		text, _, _ := strings.Cut(lines.Text(), "#")
		words := strings.Fields(text)
		if len(words) == 0 {
			continue
		}
		if len(words) != 4+len(markOrder) {
			return nil, fmt.Errorf("line %d of the marks has %d words, want %d", n, len(words), 4+len(markOrder))
		}
		m := mark{kind: words[2]}
		switch words[3] {
		case "left":
			m.facing = body.FacingLeft
		case "right":
			m.facing = body.FacingRight
		default:
			return nil, fmt.Errorf("line %d of the marks: facing %q, want left or right", n, words[3])
		}
		if _, err := fmt.Sscan(words[1], &m.frame); err != nil {
			return nil, fmt.Errorf("line %d of the marks: frame %q: %w", n, words[1], err)
		}
		for i, k := range markOrder {
			p := &m.points[k]
			if p.X, p.Y = math.NaN(), math.NaN(); words[4+i] == "-" {
				continue
			}
			if _, err := fmt.Sscanf(words[4+i], "%g,%g", &p.X, &p.Y); err != nil {
				return nil, fmt.Errorf("line %d of the marks: point %q: %w", n, words[4+i], err)
			}
		}
		marks[words[0]] = append(marks[words[0]], m)
	}
	return marks, lines.Err()
}

// markedJoints are the angles that marks are compared in.
var markedJoints = []struct {
	name  string
	angle body.Angle
}{
	{"ankle", body.AnkleDorsiflexion}, {"knee", body.KneeFlexion}, {"hip", body.HipFlexion}, {"trunk", body.TrunkLean},
}

// anglesFrom returns the marked angles of m against those of a stand, degrees. A foot that stands flat in both is the
// same shoe: the ankle is carried over with it, for by eye it slides forward as the shank folds over.
func (m *mark) anglesFrom(stand *mark) [body.NumAngles]float64 {
	folded := m.points
	at := func(l *body.Limb, k body.Landmark) body.Vec { return body.Vec{Fwd: l[k].X, Up: l[k].Y} }
	foot := func(l *body.Limb) body.Vec { return at(l, body.Heel).Add(at(l, body.Toe)).Scale(0.5) }
	moved := at(&stand.points, body.Ankle).Add(foot(&m.points)).Sub(foot(&stand.points))
	folded[body.Ankle].X, folded[body.Ankle].Y = moved.Fwd, moved.Up
	flat := !moved.Missing()
	if !flat {
		folded[body.Ankle] = m.points[body.Ankle]
	}
	now, then := body.AnglesOf(&folded, m.facing), body.AnglesOf(&stand.points, stand.facing)
	for a := range now {
		now[a] -= then[a]
	}
	// The foot is flat: how far the shank leans is the ankle.
	if now[body.AnkleDorsiflexion] = math.NaN(); flat {
		now[body.AnkleDorsiflexion] = now[body.ShankAngle]
	}
	return now
}

// handAngles are the mean angles of all passes over one frame, against the mean of the stands of the same clip.
type handAngles struct {
	frame, stand int
	kind         string
	deg          [body.NumAngles]float64
}

func handAnglesOf(marks []mark) []handAngles {
	var out []handAngles
	sums := map[int]float64{}
	for pass, stand := range passes(marks, "stand") {
		for _, m := range pass {
			if m.kind != "bottom" && m.kind != "landing" {
				continue
			}
			i := slices.IndexFunc(out, func(h handAngles) bool { return h.frame == m.frame })
			if i < 0 {
				i = len(out)
				out = append(out, handAngles{frame: m.frame, stand: stand.frame, kind: m.kind})
			}
			n := sums[m.frame]
			sums[m.frame]++
			for a, v := range m.anglesFrom(stand) {
				out[i].deg[a] = (n*out[i].deg[a] + v) / (n + 1)
			}
		}
	}
	return out
}

// passes yields the marks from one stand to the next, with that stand.
func passes(marks []mark, kind string) func(yield func([]mark, *mark) bool) {
	return func(yield func([]mark, *mark) bool) {
		for from := 0; from < len(marks); {
			to := from + 1
			for to < len(marks) && !(marks[to].kind == kind && marks[to].frame == marks[from].frame) {
				to++
			}
			if i := slices.IndexFunc(marks[from:to], func(m mark) bool { return m.kind == kind }); i >= 0 {
				if !yield(marks[from:to], &marks[from+i]) {
					return
				}
			}
			from = to
		}
	}
}

// clipOfTrack returns what a container would say of the clip that a track was made from.
func clipOfTrack(name string, track *pose.Track, widthPx, heightPx int) *media.Clip {
	c := &media.Clip{Path: name, WidthPx: widthPx, HeightPx: heightPx}
	var steps []float64
	for i, p := range track.Poses {
		c.TimesS = append(c.TimesS, p.TimeS)
		if i > 0 {
			steps = append(steps, p.TimeS-track.Poses[i-1].TimeS)
		}
	}
	slices.Sort(steps)
	step := steps[len(steps)/2]
	c.FrameRateHz, c.DurationS = 1/step, c.TimesS[len(c.TimesS)-1]+step
	return c
}

// faster returns the track played so many times as fast.
func faster(track *pose.Track, times float64) *pose.Track {
	quick := *track
	quick.Poses = slices.Clone(track.Poses)
	for i := range quick.Poses {
		quick.Poses[i].TimeS /= times
	}
	return &quick
}

// realClip is a real clip as measured.
type realClip struct {
	name  string
	clip  *media.Clip
	track *pose.Track
	*screening.Analysis
}

// loadReal measures one marked clip of a folder: from its stored track where there is one, else from its pictures.
func loadReal(ctx context.Context, folder, name, model string) (*realClip, error) {
	f, err := os.Open(filepath.Join(folder, name+".track.json.gz"))
	if errors.Is(err, fs.ErrNotExist) {
		path := filepath.Join(folder, name+".mp4")
		clip, err := media.Open(ctx, path)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(os.Stderr, "accuracy: analysing %s\n", path)
		a, track, err := screening.Analyze(ctx, path, screening.Options{Model: model})
		if err != nil {
			return nil, err
		}
		return &realClip{name, clip, track, a}, nil
	}
	if err != nil {
		return nil, fmt.Errorf("reading the track of %s: %w", name, err)
	}
	defer f.Close()
	track, err := pose.ReadTrack(f)
	if err != nil {
		return nil, fmt.Errorf("reading the track of %s: %w", name, err)
	}
	clip := clipOfTrack(name+".mp4", track, 608, 1080) // the one clip that is kept as a track
	a, err := screening.Measure(clip, track, screening.Options{})
	if err != nil {
		return nil, fmt.Errorf("measuring %s: %w", name, err)
	}
	return &realClip{name, clip, track, a}, nil
}

// Print compares the marked clips of the project, and of another folder where one is named, with the marks.
func Print(ctx context.Context, w io.Writer, other, model string) error {
	fmt.Fprintf(w,
		`Real clips against points that a person marked in single frames (good to 3 to 4 degrees): program minus hand.
Same frame: both against the same clip's marked stand. Bottom: what is printed for the rep. ROM: largest minus smallest,
a little more than a hand's bottom minus stand; its interval, with %d degrees more for the hand, holds the hand's.
`, handErrorDeg)
	var clips []*realClip
	t := figures.Table(w)
	fmt.Fprintln(t, "clip\tframe\tjoint\thand\tsame frame\tbottom\tROM\tinterval holds")
	errs := map[string][]float64{}
	for _, folder := range []string{realFolder, other} {
		if folder == "" {
			continue
		}
		f, err := os.Open(filepath.Join(folder, "marks.txt"))
		if err != nil {
			return fmt.Errorf("reading the marks: %w", err)
		}
		marks, err := readMarks(f)
		_ = f.Close() // only read
		if err != nil {
			return fmt.Errorf("reading %s: %w", f.Name(), err)
		}
		for _, name := range slices.Sorted(maps.Keys(marks)) {
			c, err := loadReal(ctx, folder, name, model)
			if err != nil {
				fmt.Fprintf(t, "%s\tnot measured: %v\t\t\t\t\t\t\n", name, err)
				continue
			}
			clips = append(clips, c)
			for _, h := range handAnglesOf(marks[name]) {
				c.printMarks(t, &h, errs)
			}
		}
	}
	for _, joint := range markedJoints {
		var sum, abs float64
		e := errs[joint.name]
		for _, v := range e {
			sum, abs = sum+v, abs+math.Abs(v)
		}
		if n := float64(len(e)); n > 0 {
			fmt.Fprintf(t, "mean\t\t%s\t\t%+.1f (absolute %.1f)\t\t\t\n", joint.name, sum/n, abs/n)
		}
	}
	_ = t.Flush()
	if other == "" {
		fmt.Fprintln(w, "Other real clips: not run (-real FOLDER names a folder of them with their marks).")
	}
	fmt.Fprintln(w)
	var measured []*screening.Analysis
	for _, c := range clips {
		measured = append(measured, c.Analysis)
	}
	figures.Known(w, "the real clips", measured)
	return printKnownZero(w, clips)
}

// printMarks prints one marked frame beside what was measured there.
func (c *realClip) printMarks(w io.Writer, h *handAngles, errs map[string][]float64) {
	if h.frame >= len(c.track.Poses) || h.stand >= len(c.track.Poses) {
		fmt.Fprintf(w, "%s\t%d\tthe clip has %d frames\t\t\t\t\t\n", c.name, h.frame, len(c.track.Poses))
		return
	}
	at, stand := c.track.Poses[h.frame].TimeS, c.track.Poses[h.stand].TimeS
	for _, joint := range markedJoints {
		hand := h.deg[joint.angle]
		if math.IsNaN(hand) {
			continue
		}
		values := c.Series.AnglesDeg[joint.angle]
		off := figures.At(c.Series.TimeS, values, at) - figures.At(c.Series.TimeS, values, stand) - hand
		same := "missing"
		if !math.IsNaN(off) {
			same = fmt.Sprintf("%+.1f", off)
			errs[joint.name] = append(errs[joint.name], off)
		}
		bottom, rom, holds := "", "", ""
		for i := range c.Reps {
			r := &c.Reps[i]
			if h.kind != "bottom" || at < r.StartS || at > r.EndS {
				continue
			}
			m := &r.Angles[joint.angle]
			bottom, rom = fmt.Sprintf("%+.1f", m.AtBottomDeg-hand), fmt.Sprintf("%+.1f", m.ROMDeg-hand)
			holds = "no"
			if m.ROMInterval95Deg[0]-handErrorDeg <= hand && hand <= m.ROMInterval95Deg[1]+handErrorDeg {
				holds = "yes"
			}
		}
		fmt.Fprintf(w, "%s\t%d\t%s\t%.0f\t%s\t%s\t%s\t%s\n", c.name, h.frame, joint.name, hand, same, bottom, rom, holds)
	}
}

// printKnownZero compares each clip with itself played two and three times as fast: nothing is lost.
func printKnownZero(w io.Writer, clips []*realClip) error {
	fmt.Fprintln(w, "A real clip against itself played faster: the truth is 0 degrees lost.")
	t := figures.Table(w)
	fmt.Fprintln(t, "clip\tplayed\tjoint\tlost\t95 % interval\tverdict")
	for _, c := range clips {
		for _, times := range []float64{2, 3} {
			track := faster(c.track, times)
			quick, err := screening.Measure(clipOfTrack("faster.mp4", track, c.clip.WidthPx, c.clip.HeightPx), track,
				screening.Options{Tempo: events.TempoFast})
			if err != nil {
				fmt.Fprintf(t, "%s\t%.0f times as fast\tnot measured: %v\t\t\t\n", c.name, times, err)
				continue
			}
			slow, err := screening.Measure(c.clip, c.track, screening.Options{Tempo: events.TempoSlow})
			if err != nil {
				return fmt.Errorf("measuring %s: %w", c.name, err)
			}
			both, err := screening.Compare([]*screening.Analysis{slow, quick}, screening.CompareOptions{})
			if err != nil {
				fmt.Fprintf(t, "%s\t%.0f times as fast\tnot compared: %v\t\t\t\n", c.name, times, err)
				continue
			}
			for _, joint := range body.LegJoints {
				ch := &both.Pairs[0].Joints[joint]
				fmt.Fprintf(t, "%s\t%.0f times as fast\t%s\t%+.1f\t%.1f to %.1f\t%s\n", c.name, times, joint, ch.LostDeg,
					ch.Interval95Deg[0], ch.Interval95Deg[1], ch.Verdict)
			}
		}
	}
	_ = t.Flush()
	fmt.Fprintln(w)
	return nil
}
