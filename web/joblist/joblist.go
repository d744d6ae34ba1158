// Package joblist tells a page how the work goes: the jobs that wait, run or have ended lately, with the names of what
// they are about. A coach is told of the jobs of his or her own athletes.
package joblist

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"golang.org/x/sync/singleflight"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/queue"
	"holdfast/printable"
	"holdfast/report/said"
)

// JobView is a job as the page shows it.
type JobView struct {
	ID          string    `json:"id"`
	ClipID      string    `json:"clip_id"`   // empty: of a comparison
	ClipName    string    `json:"clip_name"` // those of all clips of a comparison
	AthleteID   string    `json:"athlete_id"`
	AthleteName string    `json:"athlete_name"`
	Kind        string    `json:"kind"`
	State       string    `json:"state"`
	Stage       string    `json:"stage"`
	Done        int       `json:"done"`
	Total       int       `json:"total"`
	RateHz      *float64  `json:"rate_hz"` // steps a second; null when not known
	Error       string    `json:"error"`
	Hint        string    `json:"hint"`
	Position    int       `json:"position"` // in the queue, from 1; 0 when it does not wait
	Attempt     int       `json:"attempt"`
	CreatedAt   time.Time `json:"created_at"`
	// EndedAt is when it was done, failed or was cancelled; null before.
	EndedAt *time.Time `json:"ended_at"`
	// Measured says that the clip has numbers to look at; false for a comparison.
	Measured bool `json:"measured"`
	// Without says why a measured clip has no whole rep, and what to film; empty where it has one.
	Without string `json:"without"`
}

// jobOrder is the order in which the page lists jobs: what is at work first, then what
// waits as its turn will come, then what has ended, the latest first.
func jobOrder(a, b archive.Job) int {
	rank := func(j archive.Job) int {
		switch {
		case j.State == archive.JobRunning:
			return 0
		case j.State == archive.JobWaiting:
			return 1 + slices.Index([]string{archive.JobMeasure, archive.JobReport, archive.JobAnalyze, archive.JobRender},
				j.Kind)
		}
		return 5
	}
	later := a.CreatedAt.Compare(b.CreatedAt)
	if !queue.Unfinished(a) {
		later = -later
	}
	return cmp.Or(cmp.Compare(rank(a), rank(b)), later)
}

// shownJob says whether the page lists a job. Of what nobody asked for it shows what may
// be waited for; a report that has ended is told to whoever asked for it.
func shownJob(j archive.Job) bool {
	switch {
	case queue.Unfinished(j):
		return true
	case j.Kind == archive.JobReport:
		return false
	}
	return desk.AskedFor(j) || j.State == archive.JobFailed
}

// Maker makes lists of the jobs of one archive.
type Maker struct {
	Archive *archive.Archive
	Desk    *desk.Desk

	listing singleflight.Group
	last    atomic.Pointer[text] // of whoever sees everything
}

// List lists the queue. leftS is how many seconds all that is unfinished still takes; nil: not known.
func (m *Maker) List(ctx context.Context) (views []JobView, leftS *float64, err error) {
	list, err := m.Desk.Queue.List(ctx, queue.Listed)
	if err != nil {
		return nil, nil, err
	}
	slices.SortStableFunc(list, jobOrder)
	names := jobNames{m: m, clips: map[string]archive.Clip{}, athletes: map[string]string{},
		of: map[string][]archive.Clip{}}
	views = make([]JobView, 0, len(list))
	position := 0
	for _, j := range list {
		v := JobView{
			ID: j.ID, ClipID: j.ClipID, Kind: j.Kind, State: string(j.State), Stage: j.Stage, Done: j.Done, Total: j.Total,
			Error: j.Error, Hint: j.Hint, Attempt: j.Attempt, CreatedAt: j.CreatedAt, EndedAt: j.EndedAt,
		}
		if err := names.fill(ctx, j, &v); err != nil {
			return nil, nil, err
		}
		if !shownJob(j) {
			continue
		}
		if j.State == archive.JobWaiting {
			position++
			v.Position = position
		}
		if p, at := m.Desk.Queue.Progress(j.ID); at {
			v.Stage, v.Done, v.Total = p.Stage, p.Done, p.Total
			v.RateHz = oneDecimal(p.RateHz)
		}
		views = append(views, v)
	}
	if !slices.ContainsFunc(list, queue.Unfinished) || archive.CoachOf(ctx) != "" { // others' jobs may go before a coach's
		return views, nil, nil
	}
	left, known := m.Desk.Queue.Left(list, func(j archive.Job) (n int64) {
		for _, c := range names.of[j.ID] {
			n += c.SizeBytes
		}
		return n
	})
	if known {
		leftS = oneDecimal(left)
	}
	return views, leftS, nil
}

// jobNames finds what the clips and athletes of jobs are called; each is looked up once.
type jobNames struct {
	m        *Maker
	clips    map[string]archive.Clip
	athletes map[string]string
	of       map[string][]archive.Clip // by job
}

func (n jobNames) fill(ctx context.Context, j archive.Job, v *JobView) error {
	ids := []string{j.ClipID}
	if j.ComparisonID != "" {
		c, err := n.m.Archive.Comparison(ctx, j.ComparisonID)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return err
		}
		ids = c.ClipIDs
	}
	var names []string
	for _, id := range ids {
		clip, known := n.clips[id]
		if !known {
			var err error
			if clip, err = n.m.Archive.Clip(ctx, id); err != nil && !errors.Is(err, archive.ErrNotFound) {
				return err
			}
			n.clips[id] = clip
		}
		names, v.AthleteID = append(names, clip.Name), clip.AthleteID
		n.of[j.ID] = append(n.of[j.ID], clip)
	}
	v.ClipName = strings.Join(names, ", ")
	if clip := n.clips[j.ClipID]; j.ClipID != "" && clip.Result != nil {
		v.Measured = true
		if a, err := n.m.Desk.Summary(clip); err == nil {
			v.Without = said.NoWholeRep(a)
		}
	}
	name, known := n.athletes[v.AthleteID]
	if !known && v.AthleteID != "" {
		a, err := n.m.Archive.Athlete(ctx, v.AthleteID)
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return err
		}
		name = a.Name
		n.athletes[v.AthleteID] = name
	}
	v.AthleteName = name
	return nil
}

// oneDecimal is a number to be shown; nil for one that is not known.
func oneDecimal(x float64) *float64 {
	if x == 0 {
		return nil
	}
	x = math.Round(10*x) / 10
	return &x
}

// text is the queue as JSON at one of its versions.
type text struct {
	version int
	json    []byte
}

// JSON is the queue as JSON. Pages that ask at the same time, and may see the same, get the same.
func (m *Maker) JSON(ctx context.Context) ([]byte, error) {
	version, coach := m.Desk.Queue.Version(), archive.CoachOf(ctx)
	if last := m.last.Load(); coach == "" && last != nil && last.version == version {
		return last.json, nil
	}
	made, err, _ := m.listing.Do(fmt.Sprint(version, " ", coach), func() (any, error) {
		list, left, err := m.List(context.WithoutCancel(ctx))
		if err != nil {
			return nil, err
		}
		out, err := json.Marshal(struct {
			Jobs  []JobView `json:"jobs"`
			LeftS *float64  `json:"left_s"` // of all that is unfinished; null when not known
		}{list, left})
		if err != nil {
			return nil, fmt.Errorf("writing the queue: %w", err)
		}
		out = printable.JSON(out)
		if coach == "" {
			m.last.Store(&text{version, out})
		}
		return out, nil
	})
	if err != nil {
		return nil, err
	}
	return made.([]byte), nil
}
