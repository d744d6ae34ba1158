package screening

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	_ "holdfast/models/testruntime"
	"holdfast/vision"
	"holdfast/vision/media"
)

// ffmpeg makes a test file; the arguments are those of the program.
func ffmpeg(t *testing.T, args ...string) {
	t.Helper()
	cmd := exec.Command("ffmpeg", append([]string{"-v", "error", "-y", "-nostdin"}, args...)...)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("ffmpeg %v: %v\n%s", args, err, out)
	}
}

// h264 are the encoder's arguments at the end of a command line.
func h264(crf, path string) []string {
	return []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", crf, "-pix_fmt", "yuv420p", path}
}

// runsNetwork leaves a test out of a short run.
func runsNetwork(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
}

// quick is the analysis with the smaller network, for tests that ask what is
// found rather than how exactly.
func quick(path string) (*Analysis, error) {
	a, _, err := Analyze(context.Background(), path, Options{Model: "full"})
	return a, err
}

// Real footage is small, compressed, cropped, of few frames, with others in the
// picture and things before the body. Two fast squats must still be two fast
// squats.
func TestRoughFootage(t *testing.T) {
	runsNetwork(t)
	dir := t.TempDir()
	other := filepath.Join(dir, "other.png")
	ffmpeg(t, "-i", "../testdata/clips/left_slow.mp4", "-frames:v", "1", "-vf", "crop=200:660:250:330", other)
	const clip = "../testdata/clips/fast_30.mp4"
	tests := []struct {
		name string
		args []string
		crf  string
	}{
		{"360 pixels", []string{"-i", clip, "-vf", "scale=640:360"}, "28"},
		{"202 by 360 portrait", []string{"-i", clip, "-vf", "crop=405:720:437:0,scale=202:360"}, "24"},
		{"crushed by compression", []string{"-i", clip}, "42"},
		{"24 frames a second with frames lost",
			[]string{"-i", clip, "-vf", "fps=24,select='gt(mod(n,13),0)'", "-fps_mode", "passthrough"}, "24"},
		{"dark and noisy", []string{"-i", clip, "-vf", "eq=brightness=-0.25:contrast=0.6,noise=alls=18:allf=t"}, "30"},
		{"small in a large picture", []string{"-i", clip, "-vf", "scale=384:216,pad=1280:720:720:430:gray"}, "20"},
		{"second person beside", []string{"-i", clip, "-i", other, "-filter_complex", "[0][1]overlay=x=880:y=40"}, "24"},
		{"disc before the trunk", []string{"-i", clip, "-vf", "drawbox=x=590:y=225:w=75:h=75:c=black:t=fill"}, "24"},
		{"clip turned over", []string{"-i", clip, "-vf", "hflip"}, "24"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(dir, "rough.mp4")
			ffmpeg(t, append(append(tt.args, "-t", "6.2"), h264(tt.crf, path)...)...)
			a, err := quick(path)
			if err != nil {
				t.Fatal(err)
			}
			whole := 0
			for _, r := range a.Reps {
				t.Logf("rep %d %s partial %v, %.2f to %.2f s, knee %.0f°, hip %.0f°, ankle %.0f°", r.Number, r.Tempo, r.Partial,
					r.StartS, r.EndS, r.Angles[body.KneeFlexion].ROMDeg, r.Angles[body.HipFlexion].ROMDeg,
					r.Angles[body.AnkleDorsiflexion].ROMDeg)
				if r.Partial {
					continue
				}
				whole++
				if r.Tempo != "fast" {
					t.Errorf("rep %d is %s", r.Number, r.Tempo)
				}
				if rom := r.Angles[body.KneeFlexion].ROMDeg; rom < 75 || rom > 120 { // 97 to 101 in truth
					t.Errorf("rep %d: knee %.0f°", r.Number, rom)
				}
			}
			if whole != 2 {
				t.Errorf("%d whole reps, want 2", whole)
			}
			facing := "right"
			if tt.name == "clip turned over" {
				facing = "left"
			}
			if a.Facing != facing || (a.NearSide == "right") != (facing == "right") {
				t.Errorf("faces %s, near side %s", a.Facing, a.NearSide)
			}
		})
	}
}

// What cannot be measured is refused in one plain line that names the clip and
// says what to film instead.
func TestTurnedAway(t *testing.T) {
	runsNetwork(t)
	dir := t.TempDir()
	const clip = "../testdata/clips/fast_30.mp4"
	tests := []struct {
		name string
		args []string
		want error
		help string // a part of what to do
	}{
		{"nobody", []string{"-f", "lavfi", "-i", "testsrc=s=320x240:r=10:d=3"}, vision.ErrNoPerson, "film"},
		{"a person but no rep", []string{"-t", "0.6", "-i", clip, "-vf", "loop=6:18:0"}, ErrNoReps, "film"},
		{"feet out of the picture", []string{"-i", clip, "-vf", "crop=700:480:290:60"}, ErrCannotMeasure,
			"the feet are out of the picture: move back"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(dir, strings.ReplaceAll(tt.name, " ", "_")+".mp4")
			ffmpeg(t, append(tt.args, h264("24", path)...)...)
			a, err := quick(path)
			if !errors.Is(err, tt.want) {
				t.Fatalf("got %v, %v; want %v", a != nil, err, tt.want)
			}
			var ce *media.ClipError
			if !errors.As(err, &ce) || !strings.Contains(ce.Hint, tt.help) || strings.Contains(err.Error(), "\n") {
				t.Errorf("no plain line that says %q: %q", tt.help, err)
			}
			t.Log(err)
		})
	}
}

// Cropped heads and feet that leave the picture: found or refused, never a panic
// or a silent number.
func TestHeadOutOfPicture(t *testing.T) {
	runsNetwork(t)
	path := filepath.Join(t.TempDir(), "no head.mp4")
	ffmpeg(t, append([]string{"-i", "../testdata/clips/fast_30.mp4", "-t", "3.4", "-vf", "crop=700:500:290:220"},
		h264("24", path)...)...)
	a, err := quick(path)
	if err != nil {
		if !errors.Is(err, ErrNoReps) && !errors.Is(err, ErrCannotMeasure) && !errors.Is(err, vision.ErrNoPerson) {
			t.Fatal(err)
		}
		t.Log(err)
		return
	}
	t.Logf("%d reps, warnings %v", len(a.Reps), a.Warnings)
}

// The athlete is away for 4 s between two sets.
func TestAthleteAway(t *testing.T) {
	runsNetwork(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "away.mp4")
	ffmpeg(t, append([]string{"-i", "../testdata/clips/fast_30.mp4", "-filter_complex",
		"[0]trim=0:3.4,setpts=PTS-STARTPTS[a];[0]trim=3.4:9.6,setpts=PTS-STARTPTS[c];" +
			"color=c=gray:s=1280x720:r=30:d=4,format=yuv420p,setsar=1[b];[a][b][c]concat=n=3"}, h264("24", path)...)...)
	a, err := quick(path)
	if err != nil {
		t.Fatal(err)
	}
	whole := 0
	for _, r := range a.Reps {
		if !r.Partial {
			whole++
		}
	}
	gap := false
	for _, w := range a.Warnings {
		gap = gap || w.Code == string(kinematics.NoticeLongGap)
	}
	if whole != 3 || len(a.Series.Gaps) == 0 || !gap {
		t.Errorf("%d whole reps, gaps %v, warnings %v; want 3 reps and the gap reported", whole, a.Series.Gaps, a.Warnings)
	}
}

// A long clip streams through: what is kept is one pose a frame. The first pass and
// the second each hold a few pictures at most; all of them would be 1 GB.
func TestLongClip(t *testing.T) {
	runsNetwork(t)
	path := filepath.Join(t.TempDir(), "a minute.mp4")
	ffmpeg(t, append([]string{"-stream_loop", "3", "-i", "../testdata/clips/slow_30.mp4", "-t", "60", "-vf", "fps=6"},
		h264("26", path)...)...)
	before := residentMB(t)
	a, err := quick(path)
	if err != nil {
		t.Fatal(err)
	}
	if grown := residentMB(t) - before; grown > 700 {
		t.Errorf("memory grew by %d MB", grown)
	}
	if a.Clip.Frames < 350 || a.Clip.DurationS < 59 {
		t.Errorf("%d frames, %.0f s", a.Clip.Frames, a.Clip.DurationS)
	}
	// More than three rounds of three slow squats.
	if n := len(a.Reps); n < 9 || n > 11 {
		t.Errorf("%d reps, want about 10", n)
	}
}

// residentMB returns the memory the process holds, native memory included.
func residentMB(t *testing.T) int {
	t.Helper()
	data, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		return 0 // not on this system
	}
	var pages int
	fields := strings.Fields(string(data))
	for _, c := range fields[1] {
		pages = pages*10 + int(c-'0')
	}
	return pages * os.Getpagesize() >> 20
}

func TestAnalyzeStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, _, err := Analyze(ctx, "../testdata/clips/fast_30.mp4", Options{Model: "full"})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

// A film that was put together: another room, then one squat three times, twice from the
// same pictures, and the picture held in the last descent.
func TestPutTogether(t *testing.T) {
	runsNetwork(t)
	path := filepath.Join(t.TempDir(), "put together.mp4")
	ffmpeg(t, append([]string{"-i", "../testdata/clips/left_fast.mp4", "-i", "../testdata/clips/fast_30.mp4",
		"-filter_complex",
		"[0]scale=405:720,pad=1280:720:437:0,fps=30,setsar=1,trim=0:2,setpts=PTS-STARTPTS[a];" +
			"[1]split=3[p][q][r];[p]trim=0:3.5,setpts=PTS-STARTPTS[b];[q]trim=0:3.5,setpts=PTS-STARTPTS[c];" +
			"[r]trim=3.5:7,setpts=PTS-STARTPTS,loop=10:1:48,setpts=N/30/TB[d];[a][b][c][d]concat=n=4"}, h264("26", path)...)...)
	a, err := quick(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Reps) < 3 || a.Reps[0].RepeatOf != 0 || a.Reps[1].RepeatOf != 1 ||
		a.Reps[2].RepeatOf != 0 || a.Reps[0].Partial {
		for _, r := range a.Reps {
			t.Logf("rep %d, %.2f to %.2f s, repeats %d, %v", r.Number, r.StartS, r.EndS, r.RepeatOf, r.PartialWhy)
		}
		t.Error("the second rep of three shows the first again")
	}
	t.Log(a.Warnings)
	for _, want := range []string{"2 different views", "1 of its", "stands still"} {
		if !slices.ContainsFunc(a.Warnings, func(w Warning) bool { return strings.Contains(Say(w), want) }) {
			t.Errorf("nothing says %q", want)
		}
	}
}

// A plate that the athlete holds before the trunk, or a post that stands there, hides where
// shoulder and hip are: what hangs on them is not known, and that is said.
func TestHiddenTrunk(t *testing.T) {
	runsNetwork(t)
	dir := t.TempDir()
	var truth struct {
		Frames []struct {
			TimeS  float64               `json:"t"`
			Points map[string][2]float64 `json:"points"`
		} `json:"frames"`
	}
	data, err := os.ReadFile("../testdata/clips/fast_30.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &truth); err != nil {
		t.Fatal(err)
	}
	// The disc follows the place from hip (0) to shoulder (1).
	disc := func(part, radiusPx float64) string {
		var way strings.Builder
		for _, f := range truth.Frames {
			h, s := f.Points["right_hip"], f.Points["right_shoulder"]
			fmt.Fprintf(&way, "%.4f overlay x %.1f, overlay y %.1f;\n", f.TimeS, h[0]+part*(s[0]-h[0])-radiusPx,
				h[1]+part*(s[1]-h[1])-radiusPx)
		}
		commands := filepath.Join(dir, fmt.Sprintf("way%.0f", radiusPx))
		if err := os.WriteFile(commands, []byte(way.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("color=black@0:s=%[1]gx%[1]g:r=30,format=rgba,"+
			"geq=r=25:g=25:b=28:a='if(lte(hypot(X-%[2]g,Y-%[2]g),%[2]g),255,0)',trim=end_frame=1[d];"+
			"[0]sendcmd=f=%[3]s[a];[a][d]overlay=x=0:y=0", 2*radiusPx, radiusPx, commands)
	}
	tests := []struct {
		name     string
		filter   string
		measured bool // the knee may be
	}{
		{"plate at the shoulder", disc(1, 60), true},
		{"plate at the trunk", disc(0.5, 75), false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(dir, "hidden.mp4")
			ffmpeg(t, append([]string{"-i", "../testdata/clips/fast_30.mp4", "-t", "6.2", "-filter_complex", tt.filter},
				h264("22", path)...)...)
			a, _, err := Analyze(context.Background(), path, Options{})
			if errors.Is(err, ErrNoReps) || errors.Is(err, ErrCannotMeasure) {
				t.Log(err)
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			said := false
			for _, w := range a.Warnings {
				said = said || w.Code == string(kinematics.NoticePointHidden)
			}
			if !said {
				t.Errorf("nothing says what hides the body: %v", a.Warnings)
			}
			for i := range a.Reps {
				r := &a.Reps[i]
				if hip := r.Angles[body.HipFlexion].ROMDeg; !math.IsNaN(hip) {
					t.Errorf("rep %d: hip %.0f degrees", r.Number, hip)
				}
				// 97 to 101 in truth.
				if knee := r.Angles[body.KneeFlexion].ROMDeg; !math.IsNaN(knee) && !(tt.measured && knee > 85 && knee < 115) {
					t.Errorf("rep %d: knee %.0f degrees", r.Number, knee)
				}
				if r.Jump != nil && r.Angles[body.AnkleDorsiflexion].ROMDeg > 0 {
					t.Errorf("rep %d jumps", r.Number)
				}
				for _, s := range r.Support {
					if s.MeanPct.Known() {
						t.Errorf("rep %d: support point at %.0f %% in %s", r.Number, s.MeanPct.Value, s.Phase)
					}
				}
			}
		})
	}
}
