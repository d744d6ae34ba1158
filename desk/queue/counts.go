package queue

import (
	"errors"
	"time"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/words"
)

// The counts of a queue, which its Meter has.
const (
	JobsEnded    = "holdfast_jobs_total"          // by kind and state
	JobSeconds   = "holdfast_job_seconds_total"   // by kind
	StageSeconds = "holdfast_stage_seconds_total" // by stage
	Frames       = "holdfast_frames_total"        // that were looked through for the athlete
	Failures     = "holdfast_failures_total"      // by kind and reason; tried again or not
)

// tracking is the stage whose steps are the clip's frames.
const tracking = "tracking"

// countStage counts a stage that is over. What a child calls a stage nobody knows is counted as other.
func (q *Queue) countStage(stage string, steps int, took time.Duration) {
	if stage == "" {
		return
	}
	if _, known := words.Section("script.stage")[stage]; !known {
		stage = "other"
	}
	q.Meter.Add(StageSeconds, took.Seconds(), "stage", stage)
	if stage == tracking {
		q.Meter.Add(Frames, float64(steps))
	}
}

// countEnd counts a job that is at work here no more: because of err, and ended as state where it has ended.
func (q *Queue) countEnd(job archive.Job, state archive.JobState, err error, took time.Duration) {
	q.Meter.Add(JobSeconds, took.Seconds(), "kind", job.Kind)
	q.Meter.Add(JobsEnded, 1, "kind", job.Kind, "state", string(state))
	if err != nil && state != archive.JobCancelled {
		q.Meter.Add(Failures, 1, "kind", job.Kind, "reason", reasonOf(err))
	}
}

// reasonOf names in one word why a job failed: by its code, or by what kind of thing was in the way.
func reasonOf(err error) string {
	if errors.Is(err, work.ErrEnded) {
		return "program_ended"
	}
	why := refusal.Of(err)
	if why.Code != "" {
		return why.Code
	}
	if _, known := words.Section("error")[why.Reason]; known {
		return why.Reason
	}
	return why.Kind.String()
}
