package screening_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"holdfast/kinematics/body"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

// Every rep of a clip, as the network sees it. It takes half a minute, so it is compiled and not run with the other
// examples; TestStoredTracks sees a clip with the network.
func ExampleAnalyze() {
	a, _, err := screening.Analyze(context.Background(), "../testdata/clips/fast_30.mp4",
		screening.Options{Athlete: "Sam Example"})
	if err != nil {
		fmt.Println(err)
		return
	}
	printReps(a)
}

// The same from a track that was stored: without a network, in a moment.
func ExampleMeasure() {
	a, err := measured("fast_30")
	if err != nil {
		fmt.Println(err)
		return
	}
	printReps(a)
	// Output:
	// fast_30.mp4, filmed from the right
	// rep 1 is fast: knee ROM over 90°: true
	// rep 2 is fast: knee ROM over 90°: true
	// rep 3 is fast: knee ROM over 90°: true
}

func printReps(a *screening.Analysis) {
	fmt.Printf("%s, filmed from the %s\n", a.Clip.Name, a.NearSide)
	for _, rep := range a.Reps {
		knee := rep.Angles[body.KneeFlexion]
		fmt.Printf("rep %d is %s: knee ROM over 90°: %v\n", rep.Number, rep.Tempo, knee.ROMInterval95Deg[0] > 90)
	}
}

// What is lost at the ankle when a squat gets fast.
func ExampleCompare() {
	slow, err := measured("slow_30")
	if err != nil {
		fmt.Println(err)
		return
	}
	fast, err := measured("fast_30")
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := screening.Compare([]*screening.Analysis{slow, fast}, screening.CompareOptions{SmallestChangeDeg: 5})
	if err != nil {
		fmt.Println(err)
		return
	}
	pair := c.Pairs[0]
	ankle := pair.Joints[body.AnkleJoint]
	fmt.Printf("ankle, %s to %s: %s, and the interval holds %v\n", c.Word(pair.Baseline),
		c.Word(pair.Challenge), ankle.Verdict,
		ankle.Interval95Deg[0] <= ankle.LostDeg && ankle.LostDeg <= ankle.Interval95Deg[1])
	// Output:
	// ankle, slow to fast: lost, and the interval holds true
}

// known are the clips that were measured already, for two examples show the same.
var known = map[string]*screening.Analysis{}

// measured measures a shipped clip from its stored track.
func measured(name string) (*screening.Analysis, error) {
	if a := known[name]; a != nil {
		return a, nil
	}
	clip, err := media.Open(context.Background(), filepath.Join("../testdata/clips", name+".mp4"))
	if err != nil {
		return nil, err
	}
	f, err := os.Open(filepath.Join("../testdata/tracks", name+".track.json.gz"))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	track, err := pose.ReadTrack(f)
	if err != nil {
		return nil, err
	}
	known[name], err = screening.Measure(clip, track, screening.Options{})
	return known[name], err
}
