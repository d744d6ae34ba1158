package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"slices"
	"strconv"
	"time"

	"holdfast/archive"
	"holdfast/kinematics/body"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/words"
)

type clipView struct {
	ID         string      `json:"id"`
	VisitID    string      `json:"visit_id"`
	AthleteID  string      `json:"athlete_id"`
	Name       string      `json:"name"`
	SizeBytes  int64       `json:"size_bytes"`
	Tempo      string      `json:"tempo"`
	HeightCm   *float64    `json:"height_cm"`
	CaptureFPS *float64    `json:"capture_fps"`
	AddedAt    time.Time   `json:"added_at"`
	Result     *resultView `json:"result"` // null until the clip is measured
}

type resultView struct {
	ID        string     `json:"id"`
	Revision  int        `json:"revision"`
	CreatedAt time.Time  `json:"created_at"`
	Files     []fileView `json:"files"`
}

func viewOfClip(c archive.Clip) clipView {
	v := clipView{c.ID, c.VisitID, c.AthleteID, c.Name, c.SizeBytes, c.Tempo, c.HeightCm, c.CaptureFPS, c.AddedAt, nil}
	if c.Result != nil {
		v.Result = &resultView{c.Result.ID, c.Result.Revision, c.Result.CreatedAt, fileViews(c.Result.Files)}
	}
	return v
}

type correctionView struct {
	ID        string    `json:"id"`
	Seq       int       `json:"seq"`
	What      string    `json:"what"`
	CreatedAt time.Time `json:"created_at"`
	Undone    bool      `json:"undone"`
}

func (s *Server) clip(ctx context.Context, id string) (archive.Clip, error) {
	c, err := s.archive.Clip(ctx, id)
	if err != nil {
		return c, noSuch("clip", err)
	}
	return c, nil
}

func (s *Server) handleClip(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	clip, err := s.clip(ctx, r.PathValue("id"))
	if err == nil {
		clip, err = s.desk.fresh(ctx, clip)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	athlete, err := s.athlete(ctx, clip.AthleteID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	visit, err := s.visit(ctx, clip.VisitID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	history, err := s.archive.Corrections(ctx, clip.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	doc, seq, err := s.archive.CurrentCorrections(ctx, clip.ID)
	if err == nil {
		doc, err = s.inTimesOf(ctx, clip, doc)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	jobs, err := s.jobs(ctx)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	out := struct {
		Clip        clipView         `json:"clip"`
		Athlete     athleteView      `json:"athlete"`
		Visit       visitView        `json:"visit"`
		Job         *jobView         `json:"job"` // the clip's unfinished job, or else its last one; null: none
		Corrections []correctionView `json:"corrections"`
		Current     json.RawMessage  `json:"current"` // the corrections in force, in the analysis's times
		Base        string           `json:"base"`    // names them, see correcting
		CanUndo     bool             `json:"can_undo"`
		CanRedo     bool             `json:"can_redo"`
		Files       []fileView       `json:"files"`
	}{Clip: viewOfClip(clip), Athlete: viewOfAthlete(athlete), Visit: viewOfVisit(visit), Corrections: []correctionView{}, Current: doc, Base: baseOf(history), CanUndo: seq > 0, Files: []fileView{}}
	if len(doc) == 0 {
		out.Current = json.RawMessage("{}")
	}
	if i := slices.IndexFunc(jobs, func(j jobView) bool { return j.ClipID == clip.ID }); i >= 0 {
		out.Job = &jobs[i] // what is unfinished comes first in the list
	}
	for _, c := range history {
		out.Corrections = append(out.Corrections, correctionView{c.ID, c.Seq, c.What, c.CreatedAt, c.Undone})
		out.CanRedo = out.CanRedo || c.Undone
	}
	if clip.Result != nil {
		out.Files = fileViews(clip.Result.Files)
	}
	s.answer(w, r, http.StatusOK, out)
}

// inTimesOf returns corrections in the times of a clip's analysis: those that were made
// when it was thought to be filmed at another rate are moved.
func (s *Server) inTimesOf(ctx context.Context, clip archive.Clip, doc json.RawMessage) (json.RawMessage, error) {
	if len(doc) == 0 || clip.Result == nil {
		return doc, nil
	}
	var c screening.Corrections
	if err := json.Unmarshal(doc, &c); err != nil {
		return nil, fmt.Errorf("reading the corrections: %w: %w", archive.ErrDamaged, err)
	}
	a, err := s.desk.summary(ctx, clip)
	if err != nil {
		return nil, err
	}
	return json.Marshal(c.At(a.Clip.SlowMotionFactor))
}

// handleChangeClip changes what was said of a clip. What the numbers depend on
// makes it measured again, without the network.
func (s *Server) handleChangeClip(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	var in struct {
		Name       *string        `json:"name"`
		Tempo      *string        `json:"tempo"`
		HeightCm   optionalNumber `json:"height_cm"`
		CaptureFPS optionalNumber `json:"capture_fps"`
		Visit      *string        `json:"visit"`
		Date       *string        `json:"date"`
		Condition  *string        `json:"condition"`
		LoadKg     optionalNumber `json:"load_kg"`
	}
	clip, err := s.clip(ctx, r.PathValue("id"))
	if err == nil {
		err = decode(w, r, &in)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	release := s.desk.locks.hold(clip.ID)
	defer release()
	// From here on a page that goes away stops nothing in the middle, and what another
	// page changed while this one's words were on their way is kept.
	ctx = context.WithoutCancel(ctx)
	if clip, err = s.clip(ctx, clip.ID); err != nil {
		s.fail(w, r, err)
		return
	}
	before := clip
	if in.Name != nil {
		clip.Name = displayName(*in.Name)
	}
	patched(&clip.Tempo, in.Tempo)
	if in.HeightCm.sent {
		clip.HeightCm = in.HeightCm.value
	}
	if in.CaptureFPS.sent {
		clip.CaptureFPS = in.CaptureFPS.value
	}
	check := clipFields{Athlete: clip.AthleteID, Tempo: clip.Tempo, HeightCm: clip.HeightCm, CaptureFPS: clip.CaptureFPS}
	patched(&check.Date, in.Date)
	patched(&check.Condition, in.Condition)
	check.LoadKg = in.LoadKg.value
	if err := check.check(); err != nil {
		s.fail(w, r, err)
		return
	}
	visit, err := s.movedVisit(ctx, clip, in.Visit, in.Date, in.Condition, in.LoadKg)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	clip.VisitID = visit.ID
	if err := s.archive.UpdateClip(ctx, clip); err != nil {
		s.fail(w, r, err)
		return
	}
	again := clip.Result != nil && (clip.Tempo != before.Tempo || !sameNumber(clip.HeightCm, before.HeightCm) || !sameNumber(clip.CaptureFPS, before.CaptureFPS) || clip.Name != before.Name)
	if again {
		doc, seq, err := s.archive.CurrentCorrections(ctx, clip.ID)
		if err == nil {
			err = s.desk.again(ctx, clip.ID, doc, func() (int, error) { return seq, nil })
		}
		if err != nil {
			s.fail(w, r, errors.Join(err, s.archive.UpdateClip(ctx, before)))
			return
		}
	}
	s.queue.changed() // the list of jobs names the clip
	s.events.clipChanged(clip.ID)
	if clip, err = s.clip(ctx, clip.ID); err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, struct {
		Clip            clipView `json:"clip"`
		AnalysisChanged bool     `json:"analysis_changed"`
	}{viewOfClip(clip), again})
}

// movedVisit returns the visit a clip is to belong to.
func (s *Server) movedVisit(ctx context.Context, clip archive.Clip, id, date, condition *string, load optionalNumber) (archive.Visit, error) {
	if id != nil {
		v, err := s.visit(ctx, *id)
		if err == nil && v.AthleteID != clip.AthleteID {
			err = badRequest("the visit is another athlete's")
		}
		return v, err
	}
	v, err := s.visit(ctx, clip.VisitID)
	if err != nil || date == nil && condition == nil && !load.sent {
		return v, err
	}
	want := archive.Visit{AthleteID: v.AthleteID, Date: v.Date, Condition: v.Condition, LoadKg: v.LoadKg}
	patched(&want.Date, date)
	patched(&want.Condition, condition)
	if load.sent {
		want.LoadKg = load.value
	}
	return s.archive.VisitFor(ctx, want)
}

func sameNumber(a, b *float64) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

func (s *Server) handleDeleteClip(w http.ResponseWriter, r *http.Request) {
	clip, err := s.clip(r.Context(), r.PathValue("id"))
	if err == nil {
		err = s.queue.cancelClip(r.Context(), clip.ID, anyJob)
	}
	if err == nil {
		release := s.desk.locks.hold(clip.ID)
		err = s.archive.DeleteClip(r.Context(), clip.ID)
		release()
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.desk.forget()
	s.log.Info("a clip was deleted", "clip", clip.ID)
	s.queue.changed()
	s.events.clipChanged(clip.ID)
	s.answer(w, r, http.StatusOK, struct{}{})
}

// measured returns a clip that has a result.
func (s *Server) measured(r *http.Request) (archive.Clip, error) {
	clip, err := s.clip(r.Context(), r.PathValue("id"))
	if err == nil {
		clip, err = s.desk.fresh(r.Context(), clip)
	}
	if err == nil && clip.Result == nil {
		err = errNotMeasured
	}
	return clip, err
}

func (s *Server) handleAnalysis(w http.ResponseWriter, r *http.Request) {
	clip, err := s.measured(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	a, err := s.desk.analysis(r.Context(), clip)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	tag := fileOf(clip.Result.Files, "analysis.json").SHA256 + "-" + words.Version()
	s.sendJSON(w, r, tag, func(out io.Writer) error {
		doc, err := screening.EncodeTold(a)
		if err == nil {
			_, err = out.Write(printable.JSON(doc))
		}
		return err
	})
}

// handleFrames sends what the network saw in each frame of the file: the points
// that the page draws and lets the coach drag.
func (s *Server) handleFrames(w http.ResponseWriter, r *http.Request) {
	clip, err := s.measured(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	a, err := s.desk.analysis(r.Context(), clip)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	track, err := s.desk.track(r.Context(), clip)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.sendJSON(w, r, fileOf(clip.Result.Files, madeTrack).SHA256, func(out io.Writer) error {
		return writeFrames(out, a.Clip.WidthPx, a.Clip.HeightPx, track)
	})
}

// writeFrames writes a track with one decimal: a tenth of a pixel is finer than
// anybody can point at.
func writeFrames(w io.Writer, widthPx, heightPx int, t *vision.Track) error {
	names, err := json.Marshal(t.KeypointNames)
	if err != nil {
		return fmt.Errorf("writing the frames: %w", err)
	}
	b := fmt.Appendf(nil, `{"width_px":%d,"height_px":%d,"names":%s,"time_s":[`, widthPx, heightPx, names)
	for i := range t.Poses {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendDecimal(b, t.Poses[i].TimeS, 4)
	}
	b = append(b, `],"points":[`...)
	for i := range t.Poses {
		if i > 0 {
			b = append(b, ',')
		}
		p := &t.Poses[i]
		if !p.Found {
			b = append(b, "null"...)
			continue
		}
		b = append(b, '[')
		for k, q := range p.Keypoints {
			if k > 0 {
				b = append(b, ',')
			}
			b = append(b, '[')
			b = append(appendDecimal(b, q.X, 1), ',')
			b = append(appendDecimal(b, q.Y, 1), ',')
			b = append(appendDecimal(b, q.Visibility, 2), ']')
		}
		b = append(b, ']')
		if _, err := w.Write(b); err != nil {
			return err
		}
		b = b[:0]
	}
	_, err = w.Write(append(b, "]}\n"...))
	return err
}

func appendDecimal(b []byte, x float64, decimals int) []byte {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return append(b, "null"...)
	}
	scale := math.Pow10(decimals)
	return strconv.AppendFloat(b, math.Round(x*scale)/scale, 'f', -1, 64)
}

// correctRequest is a correction: the whole document after the change, and in
// words what was changed.
type correctRequest struct {
	screening.Corrections
	What string `json:"what"`
}

// The limits of a correction: far more than a person sets by hand.
const (
	maxPointCorrections = 20_000
	maxRepCorrections   = 500
	maxWhatRunes        = 200
	maxCoordinatePx     = 1 << 15
)

// parseCorrection reads a correction and refuses what cannot be one.
func parseCorrection(body io.Reader) (correctRequest, error) {
	var in correctRequest
	if err := decodeStrict(body, &in); err != nil {
		return in, err
	}
	if len([]rune(in.What)) > maxWhatRunes {
		return in, badRequest("the description is longer than %d letters", maxWhatRunes)
	}
	if in.What == "" {
		in.What = "correction"
	}
	return in, checkCorrections(&in.Corrections)
}

func checkCorrections(c *screening.Corrections) error {
	if len(c.Points) > maxPointCorrections || len(c.Reps) > maxRepCorrections {
		return badRequest("there are too many corrections in one document")
	}
	inPicture := func(v float64) bool { return v >= -maxCoordinatePx && v <= maxCoordinatePx }
	for _, p := range c.Points {
		var point body.Landmark
		_ = point.UnmarshalText([]byte(p.Point)) // has no error
		switch {
		case point == body.NumLandmarks:
			return badRequest("there is no point %q", clipped(p.Point, 40))
		case !slices.Contains([]string{"near", "left", "right"}, p.Side):
			return badRequest("the side can be near, left or right, not %q", clipped(p.Side, 40))
		case p.Frame < 0:
			return badRequest("there is no frame %d", p.Frame)
		case !inPicture(p.XPx) || !inPicture(p.YPx):
			return badRequest("the point in frame %d lies far outside the picture", p.Frame)
		}
	}
	inTime := func(v *float64) bool { return v == nil || *v >= 0 && *v <= 86_400 }
	for _, p := range c.Reps {
		if !inTime(&p.AtS) || !inTime(p.StartS) || !inTime(p.BottomS) || !inTime(p.EndS) {
			return badRequest("the rep at %g s has a time outside the clip", p.AtS)
		}
		if _, err := tempoOf(string(p.Tempo)); err != nil {
			return badRequest("%v", err)
		}
	}
	if v := c.VerticalDeg; v != nil && !(*v >= -45 && *v <= 45) {
		return badRequest("the vertical takes degrees between -45 and 45")
	}
	if f := c.Floor; f != nil {
		if !inPicture(f.X1) || !inPicture(f.Y1) || !inPicture(f.X2) || !inPicture(f.Y2) || f.X1 == f.X2 && f.Y1 == f.Y2 {
			return badRequest("the floor is no line in the picture")
		}
	}
	switch c.Facing {
	case "", "left", "right":
	default:
		return badRequest("the athlete can face left or right, not %q", clipped(c.Facing, 40))
	}
	return nil
}

// correctedView is the answer to a correction.
type correctedView struct {
	AnalysisChanged bool `json:"analysis_changed"`
	Revision        int  `json:"revision"`
	TookMS          int  `json:"took_ms"`
	CanUndo         bool `json:"can_undo"`
	CanRedo         bool `json:"can_redo"`
}

// handleCorrect records a correction and measures the clip again. What cannot be
// measured is not recorded.
func (s *Server) handleCorrect(w http.ResponseWriter, r *http.Request) {
	body, err := bodyOf(w, r, 4*maxJSONBytes)
	var in correctRequest
	if err == nil {
		in, err = parseCorrection(body)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.recompute(w, r, func(ctx context.Context, clip archive.Clip) error {
		a, err := s.desk.analysis(ctx, clip)
		if err != nil {
			return err
		}
		for _, p := range in.Points {
			if p.Frame >= a.Clip.Frames {
				return &problem{status: http.StatusUnprocessableEntity, text: fmt.Sprintf("there is no frame %d: the clip has %s", p.Frame, plural(a.Clip.Frames, "frame")),
					hint: "reload the page and correct a frame of the clip"}
			}
		}
		// A page that does not know yet that the clip was filmed at another rate sends its own times.
		factor := a.Clip.SlowMotionFactor
		in.Corrections = *in.Corrections.At(factor)
		in.SlowMotionFactor = factor
		doc, err := json.Marshal(in.Corrections)
		if err != nil {
			return fmt.Errorf("writing the corrections: %w", err)
		}
		return s.desk.again(ctx, clip.ID, doc, func() (int, error) {
			c, err := s.archive.AddCorrection(ctx, clip.ID, doc, in.What)
			return c.Seq, err
		})
	})
}

func (s *Server) handleUndo(w http.ResponseWriter, r *http.Request) {
	s.recompute(w, r, func(ctx context.Context, clip archive.Clip) error {
		now, ok, err := s.archive.UndoCorrection(ctx, clip.ID)
		if err != nil {
			return err
		}
		if !ok {
			return &problem{status: http.StatusConflict, text: "there is nothing to undo"}
		}
		err = s.desk.again(ctx, clip.ID, now.Doc, func() (int, error) { return now.Seq, nil })
		if err != nil {
			_, _, back := s.archive.RedoCorrection(ctx, clip.ID)
			return errors.Join(err, back)
		}
		return nil
	})
}

func (s *Server) handleRedo(w http.ResponseWriter, r *http.Request) {
	s.recompute(w, r, func(ctx context.Context, clip archive.Clip) error {
		now, ok, err := s.archive.RedoCorrection(ctx, clip.ID)
		if err != nil {
			return err
		}
		if !ok {
			return &problem{status: http.StatusConflict, text: "there is nothing to redo"}
		}
		err = s.desk.again(ctx, clip.ID, now.Doc, func() (int, error) { return now.Seq, nil })
		if err != nil {
			_, _, back := s.archive.UndoCorrection(ctx, clip.ID)
			return errors.Join(err, back)
		}
		return nil
	})
}

// recompute runs a change of a clip's corrections under the clip's lock and
// answers with what came of it. A page that goes away does not stop it in the middle. A
// page that says which corrections it shows (base) is refused when others hold by now:
// it would take them back unseen.
func (s *Server) recompute(w http.ResponseWriter, r *http.Request, change func(context.Context, archive.Clip) error) {
	started := time.Now()
	ctx := context.WithoutCancel(r.Context())
	id := r.PathValue("id")
	clip, err := s.clip(ctx, id)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	release := s.desk.locks.hold(clip.ID)
	defer release()
	if clip, err = s.clip(ctx, id); err == nil && clip.Result == nil {
		err = errNotMeasured
	}
	if err == nil {
		err = s.onBase(ctx, clip, r.URL.Query().Get("base"))
	}
	if err == nil {
		err = change(ctx, clip)
	}
	if err == nil {
		clip, err = s.clip(ctx, id)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	list, err := s.archive.Corrections(ctx, clip.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, correctedView{
		AnalysisChanged: true, Revision: clip.Result.Revision, TookMS: int(time.Since(started).Milliseconds()),
		CanUndo: clip.Result.CorrectionSeq > 0, CanRedo: slices.ContainsFunc(list, func(c archive.Correction) bool { return c.Undone }),
	})
}

// errCorrectedElsewhere: a page corrects what it has not seen.
var errCorrectedElsewhere = &problem{status: http.StatusConflict, text: "the clip was corrected in another window", hint: "look at it as it is now, and correct it again"}

// noBase names the state of a clip without corrections.
const noBase = "none"

// baseOf names the corrections in force: by the id of the last of them, as numbers are
// given anew after an undo.
func baseOf(history []archive.Correction) string {
	base := noBase
	for _, c := range history {
		if !c.Undone {
			base = c.ID
		}
	}
	return base
}

// onBase refuses a change that was not made on the corrections that hold now; an empty
// base is not looked at.
func (s *Server) onBase(ctx context.Context, clip archive.Clip, base string) error {
	if base == "" {
		return nil
	}
	history, err := s.archive.Corrections(ctx, clip.ID)
	if err == nil && base != baseOf(history) {
		return errCorrectedElsewhere
	}
	return err
}

// handleRender queues the annotated video.
func (s *Server) handleRender(w http.ResponseWriter, r *http.Request) {
	clip, err := s.measured(r)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	blur := r.URL.Query().Get("blur_face") == "1"
	job, err := s.queue.add(r.Context(), clip.ID, archive.JobRender, jobOptions{BlurFace: blur})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusAccepted, struct {
		Job  string `json:"job"`
		File string `json:"file"`
	}{job.ID, videoName(blur)})
}

func (s *Server) handleVideo(w http.ResponseWriter, r *http.Request) {
	s.sendResultFile(w, r, madeWebVideo)
}

func (s *Server) handleClipFile(w http.ResponseWriter, r *http.Request) {
	s.sendResultFile(w, r, r.PathValue("name"))
}

// sendResultFile sends a file of a clip's result by its name. The name is looked
// up in the archive and never becomes a path.
func (s *Server) sendResultFile(w http.ResponseWriter, r *http.Request, name string) {
	clip, err := s.clip(r.Context(), r.PathValue("id"))
	if err == nil && clip.Result == nil {
		err = errNotMeasured
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	f := fileOf(clip.Result.Files, name)
	if f.Name == "" {
		p := notFound("file")
		if name == madeWebVideo {
			p.hint = "it is being made; wait a moment"
		}
		s.fail(w, r, p)
		return
	}
	s.sendFile(w, r, f, clip.Name)
}
