package camera

import (
	"path/filepath"
	"testing"

	"holdfast/internal/ffmpeg"
	"holdfast/vision/pose"
)

// Where a clip fades from one place to another it is parted in the middle, and what comes back to a place seen before
// is of its scene. A picture that comes out of the dark, gets brighter or is panned over is none of that.
func TestDissolves(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	const one, other = "../../testdata/clips/fast_30.mp4", "../../testdata/clips/left_fast.mp4"
	const shots = "[0]scale=405:720,pad=1280:720:437:0,fps=30,setsar=1,split[p][q];" +
		"[p]trim=0:2,setpts=PTS-STARTPTS,settb=1/30[a];[q]trim=2:4,setpts=PTS-STARTPTS,settb=1/30[c];" +
		"[1]fps=30,trim=0:3,setpts=PTS-STARTPTS,settb=1/30[b];"
	faded := func(s, at string) []string {
		return []string{"-i", other, "-i", one, "-filter_complex", shots + "[a][b]xfade=duration=" + s + ":offset=1[d];" +
			"[d][c]xfade=duration=" + s + ":offset=" + at}
	}
	tests := []struct {
		name   string
		args   []string
		cuts   []int       // frames
		scenes map[int]int // of some frames
	}{
		{"in half a second", faded("0.5", "3"), []int{37, 97}, map[int]int{20: 0, 60: 1, 120: 0}},
		{"in a second", faded("1", "3"), []int{45, 105}, map[int]int{20: 0, 75: 1, 130: 0}},
		{"comes out of the dark", []string{"-i", one, "-vf", "fade=in:d=1", "-t", "3"}, nil, map[int]int{80: 0}},
		{"gets brighter", []string{"-i", one, "-vf", "eq=brightness=0.1*t:eval=frame", "-t", "3"}, nil, map[int]int{80: 0}},
		{"panned", []string{"-i", one, "-vf", "crop=640:360:x='60*t':y=200", "-t", "3"}, nil, map[int]int{80: 0}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "faded.mp4")
			ffmpeg.Run(t, append(tt.args, "-s", "640x360", "-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p",
				path)...)
			track := &pose.Track{}
			s, _ := watched(t, path, func(d Placed) {
				track.Poses = append(track.Poses, pose.Pose{TimeS: d.Frame.TimeS, Found: true, Cut: d.Cut, Scene: d.Scene})
			})
			s.Finish(track)
			var cuts []int
			for i, p := range track.Poses {
				if p.Cut {
					cuts = append(cuts, i)
					if p.Found {
						t.Errorf("frame %d of a dissolve shows somebody", i)
					}
				}
			}
			if len(cuts) != len(tt.cuts) {
				t.Fatalf("parted at %v, want %v", cuts, tt.cuts)
			}
			for i, c := range cuts {
				if d := c - tt.cuts[i]; d < -6 || d > 6 {
					t.Errorf("parted at %d, want %d", c, tt.cuts[i])
				}
			}
			for i, want := range tt.scenes {
				if got := track.Poses[i].Scene; got != want {
					t.Errorf("frame %d is of scene %d, want %d", i, got, want)
				}
			}
		})
	}
}
