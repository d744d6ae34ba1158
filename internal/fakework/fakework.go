// Package fakework stands in for what takes long or needs a network when the desk and the
// page are tested: a child process that does an order in a moment, and measuring again that
// follows corrections in a way that can be told. No pictures are looked at.
package fakework

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"holdfast/desk/work"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// Hidden is a text that tries to be something else on a screen.
const Hidden = "\x1b[2J\x07a\nb\rc\td\u009b31m\u0085e\u202ef\u2066g\u200bh\u2028i\u2029j\x7fk"

// Do reads an order from the standard input and does it as the name of its first clip says;
// it returns what the process is to exit with. A clip called refused, nasty, crash, once,
// exit or hang ends so; all others are done, one called partial without a whole rep.
func Do() int {
	text, err := bufio.NewReader(os.Stdin).ReadBytes('\n')
	if err != nil {
		return 1
	}
	var o work.Order
	if err := json.Unmarshal(text, &o); err != nil {
		return 1
	}
	out := json.NewEncoder(os.Stdout)
	say := func(l work.Line) { _ = out.Encode(l) }
	say(work.Line{Event: work.EventClip, Frames: 30})
	say(work.Line{Event: work.EventProgress, Stage: "tracking", Done: 3, Total: 30})
	how, _, _ := strings.Cut(o.Clips[0].Name, ".")
	switch strings.SplitN(how, "-", 2)[0] {
	case "refused":
		say(work.Line{Event: work.EventFailed, Error: vision.ErrNoPerson.Error(), Hint: "film the whole body"})
		return 0
	case "nasty":
		say(work.Line{Event: work.EventFailed, Error: "the clip cannot be read: " + Hidden, Hint: Hidden})
		return 0
	case "crash":
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
	case "once": // it crashes, and the next time it does not
		mark := o.Clips[0].Path + ".once"
		if _, err := os.Stat(mark); err != nil {
			_ = os.WriteFile(mark, nil, 0o600)
			_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		}
	case "exit":
		fmt.Fprintln(os.Stderr, "no more", Hidden)
		return 3
	case "hang":
		for {
			_ = syscall.Pause()
		}
	}
	if err := result(&o, say); err != nil {
		say(work.Line{Event: work.EventFailed, Error: err.Error()})
		return 0
	}
	say(work.Line{Event: work.EventDone})
	return 0
}

func writeFile(path string, fill func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	err = fill(f)
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

// result writes what the program would make.
func result(o *work.Order, say func(work.Line)) error {
	result := filepath.Join(o.Dir, work.MadeAnalysis)
	write := func(name, text string) error {
		path := filepath.Join(result, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		return os.WriteFile(path, []byte(text), 0o600)
	}
	switch o.Kind {
	case work.KindAnalyze:
		if err := write("frames/rep01_1_bottom_slow.png", "a picture"); err != nil {
			return err
		}
		if err := write("series.csv", "time_s\n0\n"); err != nil {
			return err
		}
		a := Analysis(o.Clips[0].Name)
		if err := writeFile(filepath.Join(result, "analysis.json"), func(w io.Writer) error {
			return printable.WriteJSON(w,
				a)
		}); err != nil {
			return err
		}
		if err := writeFile(filepath.Join(o.Dir, work.MadeTrack), func(w io.Writer) error {
			return pose.WriteTrack(w,
				Track())
		}); err != nil {
			return err
		}
		say(work.Line{Event: work.EventMade, Name: work.MadeAnalysis})
		if err := os.WriteFile(filepath.Join(o.Dir, work.MadeWebVideo), []byte(strings.Repeat("video", 100)),
			0o600); err != nil {
			return err
		}
		say(work.Line{Event: work.EventMade, Name: work.MadeWebVideo})
		return nil
	case work.KindStills:
		if err := write("frames/rep01_1_bottom_slow.png", "a newer picture"); err != nil {
			return err
		}
	case work.KindVideo:
		if err := write("annotated.mp4", fmt.Sprint("blurred: ", o.BlurFace)); err != nil {
			return err
		}
	case work.KindCompare:
		for _, name := range []string{"report.html", "coach.pdf", "curves.svg", "comparison.json"} {
			if err := write(name, fmt.Sprintf("%s of %d clips, blurred: %v", name, len(o.Clips), o.BlurFace)); err != nil {
				return err
			}
		}
		if o.Video {
			if err := write("sidebyside.mp4", "a video"); err != nil {
				return err
			}
		}
	}
	say(work.Line{Event: work.EventMade, Name: work.MadeAnalysis})
	return nil
}

// Track is a track of three frames, the second without the athlete.
func Track() *pose.Track {
	t := &pose.Track{KeypointNames: []string{"nose", "left_hip"}, ModelName: "heavy", RollDeg: math.NaN(),
		RollSDDeg: math.NaN()}
	for i := range 3 {
		p := pose.Pose{Index: i, TimeS: float64(i) / 30, Found: i != 1, Score: 0.9}
		if p.Found {
			p.Keypoints = []pose.Keypoint{{X: 10.123 + float64(i), Y: 20, Visibility: 0.987, SDPx: 1},
				{X: math.NaN(), Y: math.NaN()}}
		}
		t.Poses = append(t.Poses, p)
	}
	return t
}

// Analysis is an analysis of three reps whose tempo the clip's name begins with.
func Analysis(name string) *screening.Analysis {
	tempo, rom := "slow", 110.0
	if strings.HasPrefix(name, "fast") {
		tempo, rom = "fast", 95
	}
	a := &screening.Analysis{Schema: screening.AnalysisSchema, Program: screening.Program, Athlete: "Sam Example",
		Clip: screening.ClipInfo{Name: name, Frames: 3, WidthPx: 320, HeightPx: 180, DurationS: 0.1, FrameRateHz: 30,
			CaptureRateHz: 30, SlowMotionFactor: 1}}
	for i := range 3 {
		partial := strings.HasPrefix(name, "partial")
		joint := func(rom float64) joints.AngleMeasure {
			d := rom + float64(i) - 1
			return joints.AngleMeasure{MaxDeg: d, ROMDeg: d, AtBottomDeg: d, SDDeg: 1.5, AtLandingBottomDeg: math.NaN()}
		}
		a.Reps = append(a.Reps, kinematics.Rep{RepTimes: events.RepTimes{Number: i + 1, Tempo: events.Tempo(tempo),
			Partial: partial,
			BottomS: float64(3 * i), EndS: float64(3*i + 2)},
			Measures: joints.Measures{Angles: body.ByAngle[joints.AngleMeasure]{body.KneeFlexion: joint(rom),
				body.HipFlexion: joint(rom + 5), body.AnkleDorsiflexion: joint(rom / 4)}}})
	}
	return a
}

// Measure bends the knee less by one degree for each corrected point.
func Measure(info screening.ClipInfo, _ *pose.Track, opt screening.Options) (*screening.Analysis, error) {
	a := Analysis(info.Name)
	c := opt.Corrections
	if c == nil {
		c = &screening.Corrections{}
	}
	for i := range a.Reps {
		a.Reps[i].Angles[body.KneeFlexion].ROMDeg -= float64(len(c.Points))
		if opt.Tempo == events.TempoFast {
			a.Reps[i].Tempo = events.TempoFast
		}
	}
	switch c.Facing {
	case "left":
		panic("this cannot be measured")
	case "right":
		return nil, &media.ClipError{Path: "/secret/place", Err: screening.ErrNoReps, Hint: "film the whole rep"}
	}
	return a, nil
}
