package queue

import (
	"testing"
	"time"

	"holdfast/archive"
)

// TestLeft: what is left of everything follows what the machine did before and how far the job at work has come.
func TestLeft(t *testing.T) {
	now := time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)
	at := func(s float64) *time.Time {
		t := now.Add(time.Duration(s * float64(time.Second)))
		return &t
	}
	q := &Queue{opt: Options{Now: func() time.Time { return now }}}
	done := archive.Job{ID: "d", ClipID: "d", Kind: archive.JobAnalyze, State: archive.JobDone, StartedAt: at(-100),
		EndedAt: at(-60)} // 40 s for 1000 bytes
	running := archive.Job{ID: "r", ClipID: "r", Kind: archive.JobAnalyze, State: archive.JobRunning, StartedAt: at(-10)}
	waiting := archive.Job{ID: "w", ClipID: "w", Kind: archive.JobAnalyze, State: archive.JobWaiting}
	size := map[string]int64{"d": 1000, "r": 500, "w": 2000}
	bytes := func(j archive.Job) int64 { return size[j.ClipID] }
	tracking := &atWork{job: running, stage: "tracking", done: 50, total: 200, since: *at(-10)} // 30 s left of the stage
	for name, c := range map[string]struct {
		jobs []archive.Job
		at   *atWork
		want float64
		ok   bool
	}{
		"nothing is known":        {[]archive.Job{running, waiting}, nil, 0, false},
		"by what was done before": {[]archive.Job{running, waiting, done}, nil, 20 - 10 + 80, true},
		"by the one at work":      {[]archive.Job{running, waiting}, tracking, 30 + 160, true},
		"slower than before":      {[]archive.Job{running, done}, tracking, 30, true},
		"only what waits":         {[]archive.Job{waiting, done}, nil, 80, true},
		"of another kind the past": {[]archive.Job{{ID: "s", ClipID: "r", Kind: archive.JobRender,
			State: archive.JobWaiting}, done}, nil, 1, false},
	} {
		q.current = c.at
		got, ok := q.Left(c.jobs, bytes)
		if ok != c.ok || ok && got != c.want {
			t.Errorf("%s: %v %v, want %v %v", name, got, ok, c.want, c.ok)
		}
	}
}
