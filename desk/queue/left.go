package queue

import (
	"slices"
	"time"

	"holdfast/archive"
)

// lately is how many ended jobs of a kind tell how long one takes.
const lately = 12

// Left returns how many seconds all that waits or runs still takes, of all its stages; ok is false while nothing tells.
// jobs are those of List, bytes the size of a job's clips. How long a kind of job took on this machine before says it,
// by the size of the clip; of a machine that has done none, how far the one at work has come.
func (q *Queue) Left(jobs []archive.Job, bytes func(archive.Job) int64) (s float64, ok bool) {
	now := q.opt.Now()
	pace := map[string]float64{} // seconds a byte, by kind
	for _, kind := range []string{archive.JobMeasure, archive.JobReport, archive.JobAnalyze, archive.JobRender} {
		pace[kind] = paceOf(kind, jobs, bytes)
	}
	for _, j := range jobs {
		if j.State != archive.JobRunning || j.StartedAt == nil {
			continue
		}
		spent := now.Sub(*j.StartedAt).Seconds()
		p, at := q.Progress(j.ID)
		stage := 0.0
		if at {
			stage = p.LeftS
		}
		if size := float64(bytes(j)); pace[j.Kind] == 0 && stage > 0 && size > 0 {
			pace[j.Kind] = (spent + stage) / size
		}
		ok = ok || stage > 0 || pace[j.Kind] > 0
		s += max(stage, pace[j.Kind]*float64(bytes(j))-spent)
	}
	for _, j := range jobs {
		if j.State == archive.JobWaiting && pace[j.Kind] > 0 {
			ok = true
			s += pace[j.Kind] * float64(bytes(j))
		}
		if j.State == archive.JobWaiting && j.Kind == archive.JobAnalyze && pace[j.Kind] == 0 {
			return 0, false // the longest work is not known
		}
	}
	return max(s, 1), ok
}

// paceOf returns how many seconds a byte of its clips a kind of job took lately, the middle of several; 0 where none
// did.
func paceOf(kind string, jobs []archive.Job, bytes func(archive.Job) int64) float64 {
	var paces []float64
	ended := slices.Clone(jobs)
	slices.SortStableFunc(ended, func(a, b archive.Job) int { return endedAt(b).Compare(endedAt(a)) })
	for _, j := range ended {
		if j.Kind != kind || j.State != archive.JobDone || j.StartedAt == nil || j.EndedAt == nil || len(paces) == lately {
			continue
		}
		if size := bytes(j); size > 0 {
			paces = append(paces, j.EndedAt.Sub(*j.StartedAt).Seconds()/float64(size))
		}
	}
	if len(paces) == 0 {
		return 0
	}
	slices.Sort(paces)
	return paces[len(paces)/2]
}

func endedAt(j archive.Job) time.Time {
	if j.EndedAt == nil {
		return time.Time{}
	}
	return *j.EndedAt
}
