// Package tracks hands tests what the default network saw in the clips of
// testdata/clips, so that all that comes after the network
// is tested in seconds.
//
// The tracks lie in testdata/tracks as the program itself stores them, but for the
// digits: places are kept to a ten-thousandth of a pixel. They are made anew with
//
//	go test ./screening -run StoredTracks -update
package tracks

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// Names lists the clips of which a track is stored: all that are shipped.
func Names(t testing.TB) []string {
	t.Helper()
	return namesIn(t, "clips")
}

// noRep begins the names of clips of what is no repetition of anything.
const noRep = "no_rep_"

// Movements lists the clips of other movements than squats, which lie in testdata/movements with their tracks.
func Movements(t testing.TB) []string {
	t.Helper()
	return slices.DeleteFunc(namesIn(t, "movements"), func(name string) bool { return strings.HasPrefix(name, noRep) })
}

// NoReps lists the clips of what is no repetition of anything, such as walking.
func NoReps(t testing.TB) []string {
	t.Helper()
	return slices.DeleteFunc(namesIn(t, "movements"), func(name string) bool { return !strings.HasPrefix(name, noRep) })
}

// Fronts lists the clips filmed from the front, which lie in testdata/front with their tracks.
func Fronts(t testing.TB) []string {
	t.Helper()
	return namesIn(t, "front")
}

// Unshipped lists the clips of a movement that is not shipped, which lie in testdata/kneeling with their tracks.
func Unshipped(t testing.TB) []string {
	t.Helper()
	return namesIn(t, "kneeling")
}

func namesIn(t testing.TB, folder string) []string {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(testdata(), folder, "*.mp4"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("there are no clips in %s: %v", filepath.Join(testdata(), folder), err)
	}
	names := make([]string, len(paths))
	for i, p := range paths {
		names[i] = strings.TrimSuffix(filepath.Base(p), ".mp4")
	}
	return names
}

// folderOf is the folder of testdata that holds a clip.
func folderOf(name string) string {
	for _, folder := range []string{"movements", "front", "kneeling"} {
		if exists(filepath.Join(testdata(), folder, name+".mp4")) {
			return folder
		}
	}
	return "clips"
}

// Clip opens a stored clip; name is without ".mp4".
func Clip(t testing.TB, name string) *media.Clip {
	t.Helper()
	clip, err := media.Open(context.Background(), filepath.Join(testdata(), folderOf(name), name+".mp4"))
	if err != nil {
		t.Fatal(err)
	}
	return clip
}

// Load returns a shipped clip and its stored track, for screening.Measure. Nothing
// is kept between calls: the track may be changed.
func Load(t testing.TB, name string) (*media.Clip, *pose.Track) {
	t.Helper()
	track, err := Read(name)
	if err != nil {
		t.Fatal(err)
	}
	return Clip(t, name), track
}

// Read returns the stored track of a shipped clip.
func Read(name string) (*pose.Track, error) {
	f, err := os.Open(file(name))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	track, err := pose.ReadTrack(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Name(), err)
	}
	return track, nil
}

// Analysis measures a shipped clip from its stored track, as screening.Analyze would
// from its pictures. The clip's path is relative to where the test starts, so that it
// is alike on every machine.
func Analysis(t testing.TB, name string, opt screening.Options) (*screening.Analysis, *pose.Track) {
	t.Helper()
	clip, track := Load(t, name)
	a, err := screening.Measure(clip, track, opt)
	if err != nil {
		t.Fatal(err)
	}
	pictures, err := os.ReadFile(clip.Path)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(pictures)
	a.Clip.SHA256 = hex.EncodeToString(sum[:])
	relative, err := filepath.Rel(start, clip.Path)
	if err != nil {
		t.Fatal(err)
	}
	a.Clip.Path = filepath.ToSlash(relative)
	return a, track
}

// start is the folder of the package under test.
var start = func() string {
	here, err := os.Getwd()
	if err != nil {
		panic(err)
	}
	return here
}()

// Store keeps a track under the name of its clip.
func Store(name string, track *pose.Track) error {
	path := file(name)
	f, err := os.Create(path + ".part")
	if err != nil {
		return fmt.Errorf("storing the track of %s: %w", name, err)
	}
	defer f.Close()
	if err := write(f, track); err != nil {
		return fmt.Errorf("storing the track of %s: %w", name, err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("storing the track of %s: %w", name, err)
	}
	return os.Rename(path+".part", path)
}

// write rounds far below the network's error, which makes the file a third as large; one
// digit less would show in the last digits of scripts/accuracy.txt.
func write(w io.Writer, track *pose.Track) error {
	short := *track
	short.Poses = make([]pose.Pose, len(track.Poses))
	for i, p := range track.Poses {
		points := make([]pose.Keypoint, len(p.Keypoints))
		for k, q := range p.Keypoints {
			points[k] = pose.Keypoint{X: rounded(q.X, 4), Y: rounded(q.Y, 4), Z: rounded(q.Z, 1),
				Visibility: rounded(q.Visibility, 4), Presence: rounded(q.Presence, 4), SDPx: rounded(q.SDPx, 3)}
		}
		p.Keypoints = points
		if q := p.FootPitch; q != nil {
			p.FootPitch = &pose.FootPitch{Deg: rounded(q.Deg, 4), SDDeg: rounded(q.SDDeg, 4),
				Correlation: rounded(q.Correlation, 4), Source: q.Source}
		}
		short.Poses[i] = p
	}
	return pose.WriteTrack(w, &short)
}

func rounded(x float64, decimals int) float64 {
	scale := math.Pow10(decimals)
	return math.Round(x*scale) / scale
}

// file is where the track of a clip lies: in a folder of its own, or beside a clip that is none of testdata/clips.
func file(name string) string {
	if folder := folderOf(name); folder != "clips" {
		return filepath.Join(testdata(), folder, name+".track.json.gz")
	}
	return filepath.Join(testdata(), "tracks", name+".track.json.gz")
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// testdata is the folder at the root of the module, from wherever a test runs.
func testdata() string {
	_, here, _, _ := runtime.Caller(0)
	return filepath.Join(filepath.Dir(here), "..", "..", "testdata")
}
