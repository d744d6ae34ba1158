package camera

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/ffmpeg"
	"holdfast/vision/media"
)

// watched sends a clip through the watch for cuts and pictures shown again; each takes
// the frames as they come out.
func watched(t *testing.T, path string, each ...func(d Placed)) (s *Shots, timesS []float64) {
	t.Helper()
	clip, err := media.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	frames, err := clip.FramesWithOptions(context.Background(), media.FrameOptions{MaxSidePx: 640, MarkDamage: true})
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	s = NewShots()
	defer s.Close()
	in, out := make(chan Placed), make(chan Placed)
	go func() {
		defer close(in)
		for {
			f, err := frames.Next()
			in <- Placed{Frame: f, Err: err}
			if err != nil {
				return
			}
		}
	}()
	go s.Run(context.Background(), in, out)
	for d := range out {
		if d.Frame == nil {
			continue
		}
		if d.Frame.Index != len(timesS) {
			t.Errorf("frame %d comes as number %d", d.Frame.Index, len(timesS))
		}
		timesS = append(timesS, d.Frame.TimeS)
		for _, f := range each {
			f(d)
		}
		d.Close()
	}
	return s, timesS
}

// captions is a filter that paints a dark band under the feet with bright letters, other ones each half second, that
// goes for a while each second.
func captions() string {
	draw := []string{"drawbox=x=240:y=640:w=800:h=60:c=black:t=fill:enable='lt(mod(t,1),0.8)'"}
	for letter := range 12 {
		draw = append(draw, fmt.Sprintf(
			"drawbox=x=%d:y=650:w=%d:h=38:c=white:t=fill:enable='lt(mod(t,1),0.8)*eq(mod(floor(2*t)+%d,2),0)'",
			270+62*letter, 12+9*(letter*5%4), letter%2))
	}
	return strings.Join(draw, ",")
}

// Clips are put together from two that were filmed in different rooms. What changes at
// once is a cut, what is shown again in the middle of a motion is frozen, and an athlete
// who stands still is neither.
func TestShots(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	const one, other = "../../testdata/clips/fast_30.mp4", "../../testdata/clips/left_fast.mp4"
	// The upright picture of the other room, as wide as the first.
	const upright = "scale=405:720,pad=1280:720:437:0,fps=30,setsar=1"
	tests := []struct {
		name   string
		args   []string
		cuts   []int
		scenes map[int]int // of some frames
		frozen [2]int      // from the first to before the last
	}{
		{"nothing", []string{"-i", one, "-t", "4"}, nil, map[int]int{119: 0}, [2]int{}},
		{"crushed", []string{"-i", one, "-t", "4", "-crf", "38"}, nil, map[int]int{119: 0}, [2]int{}},
		{"held in the descent", []string{"-i", one, "-vf", "loop=20:1:60,setpts=N/30/TB", "-t", "4"}, nil,
			map[int]int{119: 0}, [2]int{60, 80}},
		{"held while it went on", []string{"-i", one, "-vf", "select='not(between(n,61,66))',fps=30", "-t", "4"}, nil, nil,
			[2]int{61, 67}},
		{"a piece of the ascent is missing", []string{"-i", one, "-vf", "select='not(between(n,66,90))',setpts=N/30/TB", "-t",
			"4"}, []int{66}, map[int]int{80: 0}, [2]int{}},
		{"another room", []string{"-i", other, "-i", one, "-filter_complex",
			"[0]" + upright + ",trim=0:2,setpts=PTS-STARTPTS[a];[1]trim=2:4,setpts=PTS-STARTPTS[b];[a][b]concat"},
			[]int{60}, map[int]int{59: 0, 60: 1, 110: 1}, [2]int{}},
		{"brighter at once", []string{"-i", one, "-vf", "lutyuv=y='clip(val+14,16,235)':enable='gte(t,2.5)'", "-t", "4"}, nil,
			map[int]int{119: 0}, [2]int{}},
		{"through black and back", []string{"-i", one, "-vf", "drawbox=enable='between(t,1,1.5)':c=black:t=fill", "-t", "3"},
			[]int{46}, map[int]int{80: 0}, [2]int{}},
		{"captions", []string{"-i", one, "-vf", captions(), "-t", "4"}, nil, map[int]int{119: 0}, [2]int{}},
		{"fades to black and back", []string{"-i", one, "-vf",
			"split[a][b];[a]trim=0:2,setpts=PTS-STARTPTS,fade=out:st=1.5:d=0.5[c];" +
				"[b]trim=2:4,setpts=PTS-STARTPTS,fade=in:d=0.5[d];[c][d]concat", "-t", "4"},
			[]int{61}, map[int]int{59: 0, 70: 0, 119: 0}, [2]int{}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "parted.mp4")
			ffmpeg.Run(t, append(tt.args, "-s", "640x360", "-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p",
				path)...)
			var cuts, scenes []int
			s, _ := watched(t, path, func(d Placed) {
				if d.Cut {
					cuts = append(cuts, d.Frame.Index)
				}
				scenes = append(scenes, d.Scene)
			})
			frozen := s.frozen()
			if len(cuts) != len(tt.cuts) {
				t.Fatalf("cuts at %v, want %v", cuts, tt.cuts)
			}
			for i, c := range cuts {
				if d := c - tt.cuts[i]; d < -1 || d > 1 { // a black edge is dark for a frame
					t.Errorf("cut at %d, want %d", c, tt.cuts[i])
				}
			}
			for i, want := range tt.scenes {
				if scenes[i] != want {
					t.Errorf("frame %d is of scene %d, want %d", i, scenes[i], want)
				}
			}
			for i, f := range frozen {
				if want := i >= tt.frozen[0] && i < tt.frozen[1]; f != want {
					t.Errorf("frame %d frozen: %v", i, f)
				}
			}
		})
	}
}

// Where compression begins anew all of the picture changes a little, much against the copies of a clip that stores each
// picture twice.
func TestNoCutWhereCompressionBeginsAnew(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	for _, atS := range []string{"1.8", "2.5"} {
		path := filepath.Join(t.TempDir(), "twice.mp4")
		ffmpeg.Run(t, "-i", "../../testdata/clips/fast_30.mp4", "-t", "4", "-r", "60", "-s", "640x360", "-c:v", "libx264",
			"-preset", "veryfast", "-crf", "30", "-force_key_frames", atS, "-pix_fmt", "yuv420p", path)
		watched(t, path, func(d Placed) {
			if d.Cut {
				t.Errorf("anew at %s s: a cut at %.2f s", atS, d.Frame.TimeS)
			}
		})
	}
}

// A clip of few pictures that was made one of 60 a second goes on by jerks, in which the athlete gets on as far as a
// piece left out would take him: they come again, a cut does not. So do the steps of 24 pictures a second made 30 and
// then 60. Another room is another room there too.
func TestNoCutInAJerkyClip(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	const jerks = "select='not(between(mod(n,7),4,6))',setpts=N/24/TB,fps=60"
	for _, tt := range []struct {
		name, clip, filter string
		cuts               []int
	}{
		{"four of seven pictures", "slow_30", jerks, nil},
		{"four of seven pictures of another athlete", "left_slow", jerks, nil},
		{"24 made 30 made 60", "fast", "fps=24,fps=30,fps=60", nil},
		{"another room", "slow_30", jerks + ",scale=640:360,setsar=1,trim=0:2[a];movie=../../testdata/clips/left_slow.mp4," +
			jerks + ",scale=640:360,setsar=1,trim=0:2,setpts=PTS-STARTPTS[b];[a][b]concat", []int{120}},
	} {
		path := filepath.Join(t.TempDir(), "jerky.mp4")
		ffmpeg.Run(t, "-i", "../../testdata/clips/"+tt.clip+".mp4", "-vf", tt.filter+",scale=640:360", "-t", "4", "-c:v",
			"libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p", path)
		var cuts []int
		watched(t, path, func(d Placed) {
			if d.Cut {
				cuts = append(cuts, d.Frame.Index)
			}
		})
		if !slices.Equal(cuts, tt.cuts) {
			t.Errorf("%s: cuts at %v, want %v", tt.name, cuts, tt.cuts)
		}
	}
}

// storedTimes returns a cell that goes up and down in 16 pictures, each stored several times; the copies are off by
// some levels, as compression makes them.
func storedTimes(times int, off float64) (levels []float64) {
	for k := range 16 {
		for c := range times {
			l := 20 * math.Abs(float64(k%10-5))
			if c > 0 {
				l += off
			}
			levels = append(levels, l)
		}
	}
	return levels
}

// Pictures as the watch sees them: a few cells each.
func TestFrozenPictures(t *testing.T) {
	flat := func(level float64) []uint8 { return []uint8{uint8(level), 100, 200, 20} }
	tests := []struct {
		name   string
		levels []float64 // of the cell that changes
		want   string    // f: frozen
	}{
		{"motion", []float64{0, 20, 40, 60, 80}, "....."},
		{"shown twice", []float64{0, 20, 40, 40, 60, 80}, "...f.."},
		{"shown twice, with noise", []float64{0, 20, 40, 42, 60, 80}, "...f.."},
		{"held to the end", []float64{0, 20, 40, 41, 39}, "...ff"},
		{"held from the start", []float64{5, 5, 5, 40, 60}, ".ff.."},
		{"standing still", []float64{50, 50, 50, 50, 50}, "....."},
		{"comes to rest", []float64{0, 20, 30, 35, 37, 38, 38, 38}, "........"},
		{"starts from rest", []float64{30, 30, 30, 31, 34, 40, 50}, "......."},
		{"turns round", []float64{80, 50, 30, 20, 20, 30, 50, 80}, "........"},
		{"a clock beside one who stands", []float64{20, 20, 60, 60, 60, 90, 90, 90}, "........"},
		{"stored twice", storedTimes(2, 0), "." + strings.Repeat("f.", 15) + "f"},
		{"stored twice, crushed", storedTimes(2, 6), "." + strings.Repeat("f.", 15) + "f"},
		{"stored three times", storedTimes(3, 0), "." + strings.Repeat("ff.", 15) + "ff"},
		{"stored once", storedTimes(1, 0), strings.Repeat(".", 16)},
		{"creeps", []float64{30, 32, 34, 36, 38, 40, 42}, "......."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := &Shots{}
			for i, l := range tt.levels {
				s.compare(flat(l), float64(i)/30)
			}
			got := ""
			for _, f := range s.frozen() {
				got += map[bool]string{true: "f", false: "."}[f]
			}
			if got != tt.want {
				t.Errorf("got %s, want %s", got, tt.want)
			}
		})
	}
}

// Whose compression stands still with the athlete is not frozen: each of these was, when pictures were made grey before
// they were made small, which rounds twice.
func TestStandIsNotFrozen(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it decodes videos")
	}
	for _, name := range []string{"kneeling/kneeling_press_fast", "movements/jerk_fast", "movements/push_press_slow",
		"front/front_fast"} {
		s, timesS := watched(t, filepath.Join("..", "..", "testdata", name+".mp4"))
		for i, frozen := range s.frozen() {
			if frozen {
				t.Errorf("%s: the picture at %.2f s is taken for one that is shown again", name, timesS[i])
			}
		}
	}
}

// A squat shown again is found frame by frame, its fellows that only look like it are not.
func TestRepeats(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	const clip = "../../testdata/clips/fast_30.mp4"
	tests := []struct {
		name string
		args []string
		lag  int
		part float64 // of the frames after the first lag that say so
	}{
		{"three squats", []string{"-i", clip, "-t", "7"}, 0, 0},
		{"one of them twice", []string{"-i", clip, "-filter_complex",
			"split[p][q];[p]trim=0:3.5,setpts=PTS-STARTPTS[a];[q]trim=0:3.5,setpts=PTS-STARTPTS[b];[a][b]concat"}, 105, 0.9},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "repeats.mp4")
			ffmpeg.Run(t, append(tt.args, "-s", "640x360", "-c:v", "libx264", "-preset", "veryfast", "-crf", "28", "-pix_fmt",
				"yuv420p", path)...)
			s, times := watched(t, path)
			said := 0
			for i, lag := range s.again(times) {
				if lag != 0 && lag != tt.lag {
					t.Errorf("frame %d shows that of %d before it", i, lag)
				}
				if lag != 0 {
					said++
				}
			}
			if want := tt.part * float64(len(times)-tt.lag); float64(said) < want {
				t.Errorf("%d frames show another again, want %.0f", said, want)
			}
		})
	}
}

// A clip too long for memory is read as a short one is: the same stretch is found again, and its end is that of the
// file.
func TestRepeatsOfALongClip(t *testing.T) {
	const n, cells, lag = 1000, 10000, 500 // 10 MB
	s := NewShots()
	timesS := make([]float64, n)
	for i := range n {
		timesS[i] = float64(i) / 30
		c := make([]uint8, cells)
		for k := range 40 {
			c[(i%lag*131+k*37)%cells] = 200
		}
		s.compare(c, timesS[i])
	}
	for i, got := range s.again(timesS) {
		if want := lag * min(1, i/lag); got != want {
			t.Fatalf("frame %d shows that of %d before it, want %d", i, got, want)
		}
	}
	if s.failed != nil {
		t.Error(s.failed)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	s.again(timesS)
	if s.failed == nil {
		t.Error("what cannot be read back is not said")
	}
}

// Half a minute at 120 frames a second, the athlete standing for most of it, takes no time.
func TestRepeatsOfALongStand(t *testing.T) {
	const n, cells = 3600, 500
	s := &Shots{}
	timesS := make([]float64, n)
	for i := range n {
		timesS[i] = float64(i) / 120
		c := make([]uint8, cells)
		if i%720 < 120 { // a squat every six seconds, each another
			c[i%97] = uint8(40 + (i*37)%200)
		}
		s.compare(c, timesS[i])
	}
	for i, lag := range s.again(timesS) {
		if lag != 0 {
			t.Fatalf("frame %d shows that of %d before it", i, lag)
		}
	}
}
