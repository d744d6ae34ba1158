package screening_test

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"sync/atomic"
	"testing"

	"holdfast/internal/tracks"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// Measuring comes after the networks have given their memory back, and must not take more than they did: ten minutes
// of clip have 36,000 frames. The bound was set where 8 kB a frame were measured.
func TestMemoryOfMeasuring(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it measures a minute and a half")
	}
	const times, mostPerFrame = 9, 10e3
	clip, track := tracks.Load(t, "fast")
	once, lastsS := slices.Clone(track.Poses), clip.DurationS
	track.Poses, clip.TimesS = nil, nil
	for k := range times {
		for _, p := range once {
			p.Index, p.TimeS = len(track.Poses), p.TimeS+float64(k)*lastsS
			p.Keypoints = slices.Clone(p.Keypoints)
			track.Poses, clip.TimesS = append(track.Poses, p), append(clip.TimesS, p.TimeS)
		}
	}
	clip.DurationS *= times

	defer debug.SetGCPercent(debug.SetGCPercent(10)) // so that it is looked at often
	var most atomic.Uint64
	live := func() uint64 {
		s := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
		metrics.Read(s)
		return s[0].Value.Uint64()
	}
	var watch func()
	watch = func() {
		runtime.SetFinalizer(&pose.Pose{}, func(*pose.Pose) {
			most.Store(max(most.Load(), live()))
			watch()
		})
	}
	runtime.GC()
	before := live()
	watch()
	a, err := screening.Measure(clip, track, screening.Options{})
	if err != nil {
		t.Fatal(err)
	}
	runtime.GC()
	if len(a.Reps) < times || most.Load() <= before {
		t.Fatalf("%d reps; %d bytes at most, %d before", len(a.Reps), most.Load(), before)
	}
	got := float64(most.Load()-before) / float64(len(track.Poses))
	t.Logf("%.1f kB a frame", got/1e3)
	if got > mostPerFrame {
		t.Errorf("measuring holds %.1f kB a frame, want %.1f at most", got/1e3, mostPerFrame/1e3)
	}
}
