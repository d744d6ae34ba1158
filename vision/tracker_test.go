package vision

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"holdfast/internal/ffmpeg"
	_ "holdfast/models/testruntime"
	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// The weights' own runner, the WebAssembly solution of the package that ships
// them, gave testdata/reference/tracking_*.json on the same frames
// (scripts/record-reference). It decides anchors, suppression, regions, heat map
// and tracking, so that agreement checks all of them at once.
func TestTrackerAgainstReferenceRunner(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	// Anchored by the project's own aim: median keypoint difference under 2 % of
	// the torso's length (shoulder to hip).
	const mostMedian = 0.005 // four times closer, as all is done alike
	for _, model := range []string{"heavy", "full"} {
		t.Run(model, func(t *testing.T) {
			raw, err := os.ReadFile("../testdata/reference/tracking_" + model + ".json")
			if err != nil {
				t.Fatal(err)
			}
			var ref struct {
				Sequences []struct {
					Clip                       string
					First, Last, Width, Height int
					FirstAlone                 [][4]float64 `json:"first_alone"`
					Frames                     []struct {
						Index     int
						Landmarks [][4]float64
					}
				}
			}
			if err := json.Unmarshal(raw, &ref); err != nil {
				t.Fatal(err)
			}
			tracker, err := NewTracker(TrackerOptions{Model: model})
			if err != nil {
				t.Fatal(err)
			}
			defer tracker.Close()
			for _, seq := range ref.Sequences {
				poses := trackSequence(t, tracker, filepath.Join("../testdata/clips", seq.Clip), seq.First, seq.Last)
				var diffs []float64
				for i, f := range seq.Frames {
					p := poses[i]
					if p.Index != f.Index || !p.Found {
						t.Fatalf("%s frame %d: index %d, found %v", seq.Clip, f.Index, p.Index, p.Found)
					}
					torso := math.Hypot(p.Keypoints[11].X-p.Keypoints[23].X, p.Keypoints[11].Y-p.Keypoints[23].Y)
					for k, l := range f.Landmarks {
						diffs = append(diffs, math.Hypot(p.Keypoints[k].X-l[0]*float64(seq.Width),
							p.Keypoints[k].Y-l[1]*float64(seq.Height))/torso)
					}
				}
				median, p95 := plane.Quantile(diffs, 0.5), plane.Quantile(diffs, 0.95)
				t.Logf("%s %s %d-%d: median %.4f, 95 %% below %.4f of the torso", model, seq.Clip, seq.First, seq.Last, median, p95)
				if median > mostMedian {
					t.Errorf("%s %d-%d: median difference %.4f of the torso, want under %.2f", seq.Clip, seq.First, seq.Last, median,
						mostMedian)
				}
			}
		})
	}
}

// trackSequence follows the person found in frame first up to frame last, as the
// reference runner does: no first pass, no guard.
func trackSequence(t *testing.T, tracker *Tracker, path string, first, last int) []pose.Pose {
	t.Helper()
	ctx := context.Background()
	clip, err := media.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	frames, err := clip.Frames(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer frames.Close()
	var poses []pose.Pose
	var region Region
	eye := tracker.body
	smooth := newSteady(&eye.net.manifest)
	for {
		frame, err := frames.Next()
		if errors.Is(err, io.EOF) {
			return poses
		}
		if err != nil {
			t.Fatal(err)
		}
		index := frame.Index
		if index >= first && index <= last {
			if index == first {
				people, err := tracker.Detect(frame.Mat)
				if err != nil || len(people) == 0 {
					t.Fatalf("frame %d: %d people, %v", index, len(people), err)
				}
				region = regionFrom(people[0].Hip, people[0].Crown, tracker.finders[0].net.manifest.Region.ScaleFactor)
			}
			pose, points, err := eye.see(frame.Mat, region, 1)
			if err != nil || !pose.Found {
				t.Fatalf("frame %d: found %v, %v", index, pose.Found, err)
			}
			pose.Index = index
			region = smooth.next(frame.TimeS, eye.regionOf(points, region))
			poses = append(poses, pose)
		}
		frame.Close()
		if index >= last {
			return poses
		}
	}
}

// A second person must not take the athlete's place: a coach who stands near,
// someone who walks by behind, someone who walks by in front.
func TestTrackerKeepsTheAthlete(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	dir := t.TempDir()
	alone := filepath.Join(dir, "alone.mp4")
	// 4.7 s with one fast squat, at 15 frames a second and half size to be quick.
	ffmpeg.Run(t, "-t", "4.7", "-i", "../testdata/clips/fast_30.mp4", "-vf", "fps=15,scale=640:-2", "-c:v", "libx264",
		"-crf", "20", "-pix_fmt", "yuv420p", alone)
	// The other person, cut out with a strip of wall around them.
	other := filepath.Join(dir, "other.png")
	ffmpeg.Run(t, "-i", "../testdata/clips/left_slow.mp4", "-frames:v", "1", "-vf", "crop=200:660:250:330,scale=-2:330",
		other)
	tests := []struct {
		name, size, place string
		hidden            [2]float64 // when the athlete is behind the other, seconds
	}{
		{"coach near", "330", "x=430:y=130", [2]float64{-1, -1}},
		{"larger coach near", "460", "x=440:y=0", [2]float64{-1, -1}},
		{"walks by in front", "330", "x='-100+180*t':y=100", [2]float64{1.4, 3.1}},
		{"walks by at the edge", "330", "x='-100+120*t':y=100", [2]float64{2.1, 9}},
	}
	tracker, err := NewTracker(TrackerOptions{Model: "full"})
	if err != nil {
		t.Fatal(err)
	}
	defer tracker.Close()
	ctx := context.Background()
	follow := func(path string) *pose.Track {
		clip, err := media.Open(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		track, err := tracker.Track(ctx, clip, nil)
		if err != nil {
			t.Fatal(err)
		}
		return track
	}
	want := follow(alone)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(dir, "two.mp4")
			ffmpeg.Run(t, "-i", alone, "-i", other, "-filter_complex", "[1]scale=-2:"+tt.size+"[o];[0][o]overlay="+tt.place,
				"-c:v", "libx264", "-crf", "20", "-pix_fmt", "yuv420p", path)
			got := follow(path)
			if len(got.Poses) != len(want.Poses) {
				t.Fatalf("%d frames, want %d", len(got.Poses), len(want.Poses))
			}
			lost, astray := 0, 0
			for i, p := range got.Poses {
				if p.TimeS >= tt.hidden[0] && p.TimeS <= tt.hidden[1] {
					continue
				}
				at, where := got.PointsAt(i), want.PointsAt(i)
				if at == nil || where == nil {
					lost++
					continue
				}
				a, b := at[24], where[24]
				if math.Hypot(a.X-b.X, a.Y-b.Y) > 60 {
					astray++
				}
			}
			t.Logf("%d of %d frames lost, %d astray; %d people seen", lost, len(got.Poses), astray, got.PeopleSeen)
			// Right after someone has passed the athlete may be lost for a moment.
			if astray > 0 || lost > 8 {
				t.Errorf("%d frames lost, %d astray of %d", lost, astray, len(got.Poses))
			}
		})
	}
}

func TestTrackerNobody(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	path := filepath.Join(t.TempDir(), "empty room.mp4")
	ffmpeg.Run(t, "-f", "lavfi", "-i", "testsrc=s=320x240:r=10:d=2", "-c:v", "libx264", "-pix_fmt", "yuv420p", path)
	tracker, err := NewTracker(TrackerOptions{Model: "full"})
	if err != nil {
		t.Fatal(err)
	}
	defer tracker.Close()
	clip, err := media.Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := tracker.Track(context.Background(), clip, nil); !errors.Is(err, ErrNoPerson) {
		t.Errorf("got %v, want nobody found", err)
	}
}

func TestTrackerStops(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	tracker, err := NewTracker(TrackerOptions{Model: "full"})
	if err != nil {
		t.Fatal(err)
	}
	defer tracker.Close()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	clip, err := media.Open(ctx, "../testdata/clips/fast_30.mp4")
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	track, err := tracker.Track(ctx, clip, func(stage string, done, total int) {
		if stage == "tracking" {
			seen = done
			if done == 3 {
				cancel()
			}
		}
	})
	if !errors.Is(err, context.Canceled) || track != nil {
		t.Errorf("got %v, %v after the stop", track, err)
	}
	if seen > 10 {
		t.Errorf("went on to frame %d after the stop at 3", seen)
	}
}

// A clip with a wrong mark is tracked as the one with the right mark.
func TestTurnedClipIsTurned(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the network")
	}
	dir := t.TempDir()
	base, turned := filepath.Join(dir, "base.mp4"), filepath.Join(dir, "turned.mp4")
	ffmpeg.Run(t, "-i", "../testdata/clips/fast_30.mp4", "-t", "2", "-c", "copy", base)
	tracker, err := NewTracker(TrackerOptions{Model: "full"})
	if err != nil {
		t.Fatal(err)
	}
	defer tracker.Close()
	track := func(path string) (*media.Clip, *pose.Track) {
		c, err := media.Open(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		tr, err := tracker.Track(context.Background(), c, nil)
		if err != nil {
			t.Fatal(err)
		}
		return c, tr
	}
	_, want := track(base)
	for _, mark := range []int{90, 180, 270} {
		ffmpeg.Run(t, "-i", base, "-c", "copy", "-metadata:s:v:0", fmt.Sprintf("rotate=%d", mark), turned)
		c, got := track(turned)
		if c.RotationDeg != 0 || got.TurnedDeg == 0 || c.TurnedDeg != got.TurnedDeg || c.WidthPx != 1280 {
			t.Errorf("marked %d: rotation %d, turned by %d, %d px wide", mark, c.RotationDeg, got.TurnedDeg, c.WidthPx)
			continue
		}
		k := want.KeypointIndex("right_knee")
		for i := range want.Poses {
			a, b := want.Poses[i], got.Poses[i]
			if a.Found != b.Found || a.Found && math.Hypot(a.Keypoints[k].X-b.Keypoints[k].X,
				a.Keypoints[k].Y-b.Keypoints[k].Y) > 1 {
				t.Fatalf("marked %d: the knee of frame %d is elsewhere", mark, i)
			}
		}
	}
}

// The same points come out with any number of cores, and each time.
func TestSamePointsWithAnyThreads(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it runs the networks")
	}
	path := filepath.Join(t.TempDir(), "short.mp4")
	ffmpeg.Run(t, "-ss", "3", "-t", "1.6", "-i", "../testdata/clips/fast_30.mp4", "-crf", "20", path)
	var first []byte
	for _, threads := range []int{1, 1, 2, 4} {
		clip, err := media.Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		tracker, err := NewTracker(TrackerOptions{Model: "full+thunder", Threads: threads})
		if err != nil {
			t.Fatal(err)
		}
		track, err := tracker.Track(t.Context(), clip, nil)
		if err = errors.Join(err, tracker.Close()); err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		if err := pose.WriteTrack(&out, track); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = out.Bytes()
		}
		if !bytes.Equal(first, out.Bytes()) {
			t.Errorf("with %d threads the track is another one", threads)
		}
	}
}
