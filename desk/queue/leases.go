package queue

import (
	"context"
	"errors"
	"os"
	"time"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/screening"
)

const (
	// lookAgain is how often a queue that others work on too looks for what they have added.
	lookAgain = time.Second
	// lookForDue is how often one that nobody else works on looks for jobs that were put off and are due.
	lookForDue = archive.FirstWait
)

// otherNews tells when to look for what others have changed, or what has come due; never, where neither can be.
func (q *Queue) otherNews() <-chan time.Time {
	switch {
	case q.opt.Archive.Shared():
		return time.After(lookAgain)
	case q.opt.Archive.MayPass():
		return time.After(lookForDue)
	}
	return nil
}

// renewing says again and again that the job is at work here, until ctx ends; then the channel is closed. A job that is
// another's by now is ended, and so is one of which nothing could be said for most of a lease: the archive may give it
// to another at its end.
func (q *Queue) renewing(ctx context.Context, at *atWork) <-chan struct{} {
	ended := make(chan struct{})
	if !q.opt.Archive.Shared() {
		close(ended)
		return ended
	}
	lease := q.opt.Archive.Lease()
	go func() {
		defer close(ended)
		again := time.NewTicker(lease / 4)
		defer again.Stop()
		said := time.Now()
		for {
			select {
			case <-ctx.Done():
				return
			case <-again.C:
			}
			begun := time.Now()
			call, done := context.WithTimeout(ctx, lease/4)
			err := q.opt.Archive.RenewJob(call, at.job.ID)
			done()
			switch {
			case err == nil:
				said = begun
			case ctx.Err() != nil:
				return
			case errors.Is(err, archive.ErrNotFound), time.Since(said) > lease*3/4:
				q.mu.Lock()
				at.lost = true
				q.mu.Unlock()
				at.cancel()
				return
			}
		}
	}()
	return ended
}

// leave says whether the job at work ends here without an end: it is another's by now, or was put off because of err.
func (q *Queue) leave(ctx context.Context, at *atWork, err error) bool {
	q.mu.Lock()
	lost, cancelled := at.lost, at.cancelled
	q.mu.Unlock()
	if !lost && (err == nil || cancelled || ctx.Err() != nil || !q.putOff(ctx, at.job, err)) {
		return false
	}
	q.mu.Lock()
	q.current = nil
	q.mu.Unlock()
	return true
}

// putOff lets a job wait that failed for a reason that may pass, as when the files' server does not answer, and says
// whether it did. What a clip or a coach is to blame for is final. Where not even that can be written to a shared
// archive the lease runs out, and another takes the job.
func (q *Queue) putOff(ctx context.Context, job archive.Job, err error) bool {
	if !q.opt.Archive.MayPass() || errors.Is(err, work.ErrEnded) {
		return false
	}
	why := refusal.Of(err)
	if why.Kind != refusal.Fault || errors.Is(err, archive.ErrDamaged) {
		return false
	}
	end, done := context.WithTimeout(context.WithoutCancel(ctx), archiveTime)
	defer done()
	ok, failed := q.opt.Archive.PutOffJob(end, job.ID, why.Text)
	return ok || failed != nil && q.opt.Archive.Shared()
}

// signTime is how often a program that works on a shared archive says so.
const signTime = 10 * time.Second

// signs says again and again that this program works, until what it returns is called.
func (q *Queue) signs(ctx context.Context) (leave func()) {
	if !q.opt.Archive.Shared() {
		return func() {}
	}
	computer, err := os.Hostname()
	if err != nil {
		computer = "" // it is for people to read alone
	}
	sign := func() {
		call, done := context.WithTimeout(ctx, signTime)
		defer done()
		if err := q.opt.Archive.SignOfLife(call, computer, screening.Program); err != nil && ctx.Err() == nil {
			q.opt.Log.Debug("no sign of life was given", "error", err)
		}
	}
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan struct{})
	sign() // before the first job is taken: who works is counted
	go func() {
		defer close(ended)
		again := time.NewTicker(signTime)
		defer again.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-again.C:
				sign()
			}
		}
	}()
	return func() {
		stop()
		<-ended
		last, done := context.WithTimeout(context.WithoutCancel(ctx), archiveTime)
		defer done()
		_ = q.opt.Archive.Leave(last) // it falls silent, which says the same
	}
}
