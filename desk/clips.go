package desk

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"time"

	"holdfast/archive"
	"holdfast/desk/given"
	"holdfast/desk/refusal"
	"holdfast/desk/trim"
	"holdfast/desk/work"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/screening/setting"
	"holdfast/vision/pose"
)

// Added is a clip that came in.
type Added struct {
	Clip  archive.Clip
	Known bool   // the athlete has it already
	Job   string // its analysis; empty for a known clip that is measured already
}

// Add puts a file into the archive, makes a clip of it with a name to be shown, and queues
// its analysis. check looks at the file before it is kept.
func (d *Desk) Add(
	ctx context.Context, from io.Reader, name string, fields given.Clip, check ...func(io.ReaderAt, int64) error,
) (Added, error) {
	return d.receive(ctx, from, name, fields, func(clip archive.Clip) (string, error) {
		job, err := d.addJob(ctx, archive.Job{ClipID: clip.ID, Kind: archive.JobAnalyze}, jobOptions{})
		return job.ID, err
	}, check...)
}

// AddTracked adds a clip of which it is known what the network sees in it: it is measured at once, and
// is the page's video itself. Where another network is wanted it is a clip like any other.
func (d *Desk) AddTracked(
	ctx context.Context, from io.Reader, name string, fields given.Clip, info screening.ClipInfo, track *pose.Track,
) (Added, error) {
	if d.opt.Model != "" && d.opt.Model != track.ModelName {
		return d.Add(ctx, from, name, fields)
	}
	return d.receive(ctx, from, name, fields, func(clip archive.Clip) (string, error) {
		return "", d.measureTracked(ctx, clip, info, track)
	})
}

// measureTracked gives a clip its first result, from its track.
func (d *Desk) measureTracked(ctx context.Context, c archive.Clip, info screening.ClipInfo, track *pose.Track) error {
	// Measuring again reads what is known of the clip where an analysis has it.
	known := screening.Analysis{Schema: screening.AnalysisSchema, Clip: info}
	note, err := d.put(ctx, AnalysisFile, func(w io.Writer) error { return printable.WriteJSON(w, &known) })
	kept, also := d.put(ctx, work.MadeTrack, func(w io.Writer) error { return pose.WriteTrack(w, track) })
	if err = errors.Join(err, also); err != nil {
		return err
	}
	back, err := d.turns.Take(ctx, c.ID)
	if err != nil {
		return err
	}
	defer back()
	video := archive.File{Name: work.MadeWebVideo, SHA256: c.SHA256, SizeBytes: c.SizeBytes}
	if _, err = d.archive.SaveResult(ctx, c.ID, []archive.File{note, kept, video}, 0); err != nil {
		return err
	}
	return d.again(ctx, c.ID, nil, func() (int, error) { return 0, nil })
}

// receive puts a file into the archive and makes a clip of it; what follows for one that is not
// measured yet may name a job.
func (d *Desk) receive(
	ctx context.Context, from io.Reader, name string, fields given.Clip,
	follows func(archive.Clip) (job string, err error), check ...func(io.ReaderAt, int64) error,
) (Added, error) {
	file, err := d.archive.Put(ctx, from, d.Limits.ClipBytes, check...)
	if err != nil {
		return Added{}, err
	}
	visit, height, err := d.placeOf(ctx, fields)
	if err != nil {
		// AddClip, which is not reached, would have given the file its name.
		return Added{}, errors.Join(err, d.archive.Forget(context.WithoutCancel(ctx), file))
	}
	clip, known, err := d.archive.AddClip(ctx, archive.Clip{
		VisitID: visit.ID, AthleteID: visit.AthleteID, Name: name, SHA256: file.SHA256, SizeBytes: file.SizeBytes,
		Tempo: fields.Tempo, HeightCm: height, CaptureFPS: fields.CaptureFPS, Movement: fields.Movement,
		Setting: fields.Setting,
	})
	if err != nil || known && clip.Result != nil {
		return Added{Clip: clip, Known: known}, err
	}
	job, err := follows(clip)
	if err != nil {
		if !known {
			err = errors.Join(err, d.archive.DeleteClip(context.WithoutCancel(ctx), clip.ID))
		}
		return Added{}, err
	}
	d.log.Info("a clip came in", "clip", clip.ID, "bytes", clip.SizeBytes, "known", known)
	return Added{clip, known, job}, nil
}

// placeOf returns the visit that a clip belongs to, and the athlete's height for it.
func (d *Desk) placeOf(ctx context.Context, fields given.Clip) (visit archive.Visit, heightCm *float64, err error) {
	visit, err = d.visitFor(ctx, fields)
	if err != nil || fields.HeightCm != nil {
		return visit, fields.HeightCm, err
	}
	a, err := d.archive.Athlete(ctx, visit.AthleteID)
	return visit, a.HeightCm, err
}

// Resolve refuses a visit or an athlete that is not there, before anything is
// received, and puts the id of an athlete that is there in place of the name. It
// returns the name, empty for a visit. Who is new is made when the clip is there.
func (d *Desk) Resolve(ctx context.Context, f *given.Clip) (name string, err error) {
	switch {
	case f.Visit != "":
		_, err := d.archive.Visit(ctx, f.Visit)
		return "", err
	case f.Athlete != "":
		a, err := d.archive.Athlete(ctx, f.Athlete)
		return a.Name, err
	}
	all, err := d.archive.Athletes(ctx)
	if err != nil {
		return "", err
	}
	name = given.OneLine(f.AthleteName)
	if i := slices.IndexFunc(all, func(a archive.Athlete) bool { return isCalled(a, name) }); i >= 0 {
		f.Athlete, f.AthleteName = all[i].ID, ""
		return all[i].Name, nil
	}
	return f.AthleteName, nil
}

// isCalled says whether an athlete has a name, without regard to case. The example has
// none: whoever is called so is somebody else.
func isCalled(a archive.Athlete, name string) bool {
	return strings.EqualFold(a.Name, name) && !a.Example
}

// visitFor finds the visit that a clip belongs to, and makes athlete and visit when
// they are new. Without a date it is today.
func (d *Desk) visitFor(ctx context.Context, f given.Clip) (archive.Visit, error) {
	if f.Visit != "" {
		return d.archive.Visit(ctx, f.Visit)
	}
	athlete := archive.Athlete{ID: f.Athlete}
	var err error
	if f.Athlete != "" {
		athlete, err = d.archive.Athlete(ctx, f.Athlete)
	} else {
		name := given.OneLine(f.AthleteName)
		athlete, err = d.archive.AthleteFor(ctx, archive.Athlete{Name: name, HeightCm: f.HeightCm},
			func(a archive.Athlete) bool { return isCalled(a, name) })
	}
	if err != nil {
		return archive.Visit{}, err
	}
	v := archive.Visit{AthleteID: athlete.ID, Date: f.Date, Condition: f.Condition, LoadKg: f.LoadKg}
	if v.Date == "" {
		v.Date = d.opt.Now().Format(time.DateOnly)
	}
	if v.Condition == "" {
		v.Condition = setting.StateOf(f.LoadKg, f.Setting)
	}
	return d.archive.VisitFor(ctx, v)
}

// ClipChange is what is to be changed of a clip; nil: it stays.
type ClipChange struct {
	Name, Tempo, Movement *string
	Setting               *setting.Setting // the whole of it
	// A pointer to nil takes the number away.
	HeightCm, CaptureFPS, TrimFromS, TrimToS **float64
	// Athlete moves the clip to a visit of another athlete, on the same day and in the same condition unless others are
	// given. The comparisons that used it go.
	Athlete *string
	// Visit moves the clip to another visit of the athlete; else to the one that the present
	// one becomes with these.
	Visit, Date, Condition *string
	LoadKg                 **float64
}

func set[T any](into *T, value *T) {
	if value != nil {
		*into = *value
	}
}

// ChangeClip changes what was said of a clip. What the numbers depend on makes it measured
// again, without the network: again says so. Where that fails nothing is changed.
func (d *Desk) ChangeClip(
	ctx context.Context, id string, change ClipChange,
) (clip archive.Clip, again bool, err error) {
	if clip, err = d.Clip(ctx, id); err != nil {
		return clip, false, err
	}
	back, err := d.turns.Take(ctx, clip.ID)
	if err != nil {
		return clip, false, err
	}
	defer back()
	// From here on a page that goes away stops nothing in the middle, and what another
	// page changed while this one's words were on their way is kept.
	ctx = context.WithoutCancel(ctx)
	if clip, err = d.Clip(ctx, clip.ID); err != nil {
		return clip, false, err
	}
	before := clip
	if change.Name != nil {
		clip.Name = given.DisplayName(*change.Name)
	}
	set(&clip.Tempo, change.Tempo)
	set(&clip.Movement, change.Movement)
	set(&clip.Setting, change.Setting)
	set(&clip.HeightCm, change.HeightCm)
	set(&clip.CaptureFPS, change.CaptureFPS)
	set(&clip.TrimFromS, change.TrimFromS)
	set(&clip.TrimToS, change.TrimToS)
	check := given.Clip{Athlete: clip.AthleteID, Tempo: clip.Tempo, HeightCm: clip.HeightCm, CaptureFPS: clip.CaptureFPS,
		Setting: clip.Setting}
	set(&check.Movement, change.Movement)
	set(&check.Date, change.Date)
	set(&check.Condition, change.Condition)
	set(&check.LoadKg, change.LoadKg)
	if err := check.Check(); err != nil {
		return clip, false, err
	}
	if err := d.checkTrim(clip); err != nil && (change.TrimFromS != nil || change.TrimToS != nil) {
		return clip, false, err
	}
	visit, err := d.movedVisit(ctx, clip, change)
	if err != nil {
		return clip, false, err
	}
	if clip.VisitID = visit.ID; visit.AthleteID != before.AthleteID {
		if err := d.leaveAthlete(ctx, &clip, visit.AthleteID, change.HeightCm != nil); err != nil {
			return clip, false, err
		}
	}
	if err := d.archive.UpdateClip(ctx, clip); err != nil {
		return clip, false, err
	}
	again = clip.Result != nil && d.orderOf(ctx, clip).MeasuredWith() != d.orderOf(ctx, before).MeasuredWith()
	if again {
		doc, seq, err := d.archive.CurrentCorrections(ctx, clip.ID)
		if err == nil {
			err = d.again(ctx, clip.ID, doc, func() (int, error) { return seq, nil })
		}
		if err != nil {
			return clip, false, errors.Join(err, d.archive.UpdateClip(ctx, before))
		}
	}
	if clip.VisitID != before.VisitID {
		if err := d.measureJoined(ctx, before.JoinedWith); err != nil {
			return clip, again, err
		}
		if err := d.archive.DeleteEmptied(ctx, before.VisitID); err != nil {
			return clip, again, err
		}
	}
	d.Queue.Changed() // the list of jobs names the clip
	d.opt.ClipChanged(clip.ID)
	clip, err = d.Clip(ctx, clip.ID)
	return clip, again, err
}

// checkTrim refuses a part of a clip that cannot be measured.
func (d *Desk) checkTrim(clip archive.Clip) error {
	a, err := d.Summary(clip)
	if err != nil {
		return err
	}
	return trim.Part{FromS: clip.TrimFromS, ToS: clip.TrimToS}.Check(a.Clip.DurationS)
}

// leaveAthlete makes a clip ready to go to another athlete: the height that it had from the one before becomes that of
// the other, and reports that use it are not made any more.
func (d *Desk) leaveAthlete(ctx context.Context, clip *archive.Clip, to string, heightGiven bool) error {
	from, err := d.Athlete(ctx, clip.AthleteID)
	if err != nil {
		return err
	}
	other, err := d.Athlete(ctx, to)
	if err != nil {
		return err
	}
	if same := from.HeightCm != nil && clip.HeightCm != nil && *from.HeightCm == *clip.HeightCm; same && !heightGiven {
		clip.HeightCm = other.HeightCm
	}
	list, err := d.archive.ComparisonsOf(ctx, from.ID)
	for _, c := range list {
		if err == nil && slices.Contains(c.ClipIDs, clip.ID) {
			err = d.cancelReports(ctx, c.ID)
		}
	}
	return err
}

// movedVisit returns the visit a clip is to belong to.
func (d *Desk) movedVisit(ctx context.Context, clip archive.Clip, change ClipChange) (archive.Visit, error) {
	if change.Visit != nil {
		v, err := d.Visit(ctx, *change.Visit)
		if err == nil && v.AthleteID != clip.AthleteID {
			err = refusal.Wrong("visit_of_another", nil)
		}
		return v, err
	}
	v, err := d.Visit(ctx, clip.VisitID)
	moved := change.Athlete != nil && *change.Athlete != clip.AthleteID
	if err != nil || !moved && change.Date == nil && change.Condition == nil && change.LoadKg == nil {
		return v, err
	}
	if moved {
		a, err := d.Athlete(ctx, *change.Athlete)
		if err != nil {
			return v, err
		}
		v.AthleteID = a.ID
	}
	want := archive.Visit{AthleteID: v.AthleteID, Date: v.Date, Condition: v.Condition, LoadKg: v.LoadKg}
	set(&want.Date, change.Date)
	set(&want.Condition, change.Condition)
	set(&want.LoadKg, change.LoadKg)
	return d.archive.VisitFor(ctx, want)
}

// ChangeVisit stores what is now said of a visit. What was measured with another load is queued to be measured again.
func (d *Desk) ChangeVisit(ctx context.Context, v archive.Visit) error {
	if err := d.archive.UpdateVisit(ctx, v); err != nil {
		return err
	}
	clips, err := d.archive.ClipsOf(ctx, v.AthleteID)
	if err != nil {
		return err
	}
	for _, c := range clips {
		if c.VisitID == v.ID && err == nil {
			err = d.measureOutdated(ctx, c)
		}
	}
	return err
}

// measureOutdated queues the measuring of a clip that was measured with something else than what is said of it now.
func (d *Desk) measureOutdated(ctx context.Context, c archive.Clip) error {
	if c.Result == nil {
		return nil
	}
	job, opt, err := d.missing(ctx, c, nil)
	if err == nil && job.Kind == archive.JobMeasure {
		_, err = d.addJob(ctx, job, opt)
	}
	return err
}

// measureJoined is [Desk.measureOutdated] of the clip that another took along to a visit, where the load may differ.
func (d *Desk) measureJoined(ctx context.Context, id string) error {
	if id == "" {
		return nil
	}
	c, err := d.archive.Clip(ctx, id)
	if err == nil {
		err = d.measureOutdated(ctx, c)
	}
	return err
}

// ChangeAthlete stores what is now said of an athlete. Reports that name them otherwise go.
func (d *Desk) ChangeAthlete(ctx context.Context, a archive.Athlete) error {
	before, err := d.Athlete(ctx, a.ID)
	if err == nil {
		err = d.archive.UpdateAthlete(ctx, a)
	}
	if err == nil && a.Name != before.Name {
		err = d.dropReports(ctx, a.ID)
	}
	if err == nil {
		d.Queue.Changed() // the list of jobs names the athlete
	}
	return err
}

// DeleteClip removes a clip with its jobs, its result and its comparisons, and with its last clip a visit of which
// nothing is noted.
func (d *Desk) DeleteClip(ctx context.Context, id string) error {
	clip, err := d.Clip(ctx, id)
	if err == nil {
		err = d.deleting(ctx, []archive.Clip{clip}, func() error { return d.archive.DeleteClip(ctx, clip.ID) })
	}
	if err == nil {
		err = d.archive.DeleteEmptied(ctx, clip.VisitID)
	}
	if err == nil {
		d.log.Info("a clip was deleted", "clip", clip.ID)
	}
	return err
}

// DeleteVisit removes a visit with its clips.
func (d *Desk) DeleteVisit(ctx context.Context, id string) error {
	v, err := d.Visit(ctx, id)
	if err != nil {
		return err
	}
	clips, err := d.archive.ClipsOf(ctx, v.AthleteID)
	if err != nil {
		return err
	}
	clips = slices.DeleteFunc(clips, func(c archive.Clip) bool { return c.VisitID != v.ID })
	return d.deleting(ctx, clips, func() error { return d.archive.DeleteVisit(ctx, v.ID) })
}

// DeleteAthlete removes an athlete with everything, and says what went.
func (d *Desk) DeleteAthlete(ctx context.Context, id string) (gone archive.Deleted, err error) {
	a, err := d.Athlete(ctx, id)
	if err != nil {
		return gone, err
	}
	clips, err := d.archive.ClipsOf(ctx, a.ID)
	if err != nil {
		return gone, err
	}
	err = d.deleting(ctx, clips, func() error {
		gone, err = d.archive.DeleteAthlete(ctx, a.ID)
		return err
	})
	if err == nil {
		d.log.Info("an athlete was deleted", "athlete", a.ID, "clips", gone.Clips, "files", gone.Files)
	}
	return gone, err
}

// deleting ends the jobs of clips and deletes them, and what was held ready of them.
func (d *Desk) deleting(ctx context.Context, clips []archive.Clip, remove func() error) error {
	var ids []string
	for _, c := range clips {
		ids = append(ids, c.ID)
	}
	if err := d.Queue.CancelAll(ctx, func(j archive.Job) bool { return slices.Contains(ids, j.ClipID) }); err != nil {
		return err
	}
	back, err := d.turns.Take(ctx, ids...) // what is still being saved of them is saved first
	if err != nil {
		return err
	}
	err = remove()
	back()
	if err != nil {
		return err
	}
	d.forget()
	d.Queue.Changed()
	for _, id := range ids {
		d.opt.ClipChanged(id)
	}
	return nil
}
