package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"slices"
	"strconv"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/kinematics/notice"
	"holdfast/printable"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/screening/setting"
	"holdfast/vision/pose"
	"holdfast/web/answer"
	"holdfast/web/joblist"
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
	TrimFromS  *float64    `json:"trim_from_s"` // seconds of the file; null: from the beginning
	TrimToS    *float64    `json:"trim_to_s"`
	Movement   string      `json:"movement"` // given by the coach; empty: found
	AddedAt    time.Time   `json:"added_at"`
	Result     *resultView `json:"result"` // null until the clip is measured

	Setting setting.Setting `json:"setting"` // how the set was done
}

type resultView struct {
	ID        string     `json:"id"`
	Revision  int        `json:"revision"`
	CreatedAt time.Time  `json:"created_at"`
	Files     []fileView `json:"files"`
}

func viewOfClip(c archive.Clip) clipView {
	v := clipView{c.ID, c.VisitID, c.AthleteID, c.Name, c.SizeBytes, c.Tempo, c.HeightCm, c.CaptureFPS, c.TrimFromS,
		c.TrimToS, c.Movement, c.AddedAt, nil, c.Setting}
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

func (s *Server) handleClip(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	clip, err := s.desk.Clip(ctx, r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	athlete, err := s.desk.Athlete(ctx, clip.AthleteID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	visit, err := s.desk.Visit(ctx, clip.VisitID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	history, err := s.archive.Corrections(ctx, clip.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	doc, canUndo, err := s.desk.CorrectionsOf(ctx, clip)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	jobs, _, err := s.jobs.List(ctx)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	out := struct {
		Clip        clipView         `json:"clip"`
		Athlete     athleteView      `json:"athlete"`
		Visit       visitView        `json:"visit"`
		Job         *joblist.JobView `json:"job"` // the clip's unfinished job, or else its last one; null: none
		Corrections []correctionView `json:"corrections"`
		Current     json.RawMessage  `json:"current"` // the corrections in force, in the analysis's times
		Base        string           `json:"base"`    // names them, see correcting
		CanUndo     bool             `json:"can_undo"`
		CanRedo     bool             `json:"can_redo"`
		Files       []fileView       `json:"files"`
	}{
		Clip: viewOfClip(clip), Athlete: viewOfAthlete(athlete), Visit: viewOfVisit(visit), Corrections: []correctionView{},
		Current: doc, Base: desk.BaseOf(history), CanUndo: canUndo, Files: []fileView{},
	}
	if i := slices.IndexFunc(jobs, func(j joblist.JobView) bool { return j.ClipID == clip.ID }); i >= 0 {
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

// handleChangeClip changes what was said of a clip. What the numbers depend on
// makes it measured again, without the network.
func (s *Server) handleChangeClip(w http.ResponseWriter, r *http.Request) {
	var in struct {
		Name       *string               `json:"name"`
		Tempo      *string               `json:"tempo"`
		HeightCm   answer.OptionalNumber `json:"height_cm"`
		CaptureFPS answer.OptionalNumber `json:"capture_fps"`
		TrimFromS  answer.OptionalNumber `json:"trim_from_s"`
		TrimToS    answer.OptionalNumber `json:"trim_to_s"`
		Athlete    *string               `json:"athlete"`
		Visit      *string               `json:"visit"`
		Date       *string               `json:"date"`
		Condition  *string               `json:"condition"`
		LoadKg     answer.OptionalNumber `json:"load_kg"`
		Movement   *string               `json:"movement"`
		Setting    *setting.Setting      `json:"setting"` // the whole of it
	}
	var out struct {
		Clip            clipView `json:"clip"`
		AnalysisChanged bool     `json:"analysis_changed"`
	}
	clip, err := s.desk.Clip(r.Context(), r.PathValue("id"))
	if err == nil {
		err = answer.Decode(w, r, &in)
	}
	if err == nil {
		clip, out.AnalysisChanged, err = s.desk.ChangeClip(r.Context(), clip.ID, desk.ClipChange{
			Name: in.Name, Tempo: in.Tempo, HeightCm: in.HeightCm.Change(), CaptureFPS: in.CaptureFPS.Change(),
			TrimFromS: in.TrimFromS.Change(), TrimToS: in.TrimToS.Change(), Athlete: in.Athlete,
			Visit: in.Visit, Date: in.Date, Condition: in.Condition, LoadKg: in.LoadKg.Change(),
			Movement: in.Movement, Setting: in.Setting,
		})
	}
	out.Clip = viewOfClip(clip)
	s.reply(w, r, http.StatusOK, out, err)
}

func (s *Server) handleDeleteClip(w http.ResponseWriter, r *http.Request) {
	s.reply(w, r, http.StatusOK, struct{}{}, s.desk.DeleteClip(r.Context(), r.PathValue("id")))
}

// handleJoin says that a clip shows the same set as one from the other view.
func (s *Server) handleJoin(w http.ResponseWriter, r *http.Request) {
	var in struct {
		With string `json:"with"`
	}
	err := answer.Decode(w, r, &in)
	if err == nil {
		err = s.desk.Joined.Join(r.Context(), r.PathValue("id"), in.With)
	}
	s.reply(w, r, http.StatusOK, struct{}{}, err)
}

// handlePart takes that back.
func (s *Server) handlePart(w http.ResponseWriter, r *http.Request) {
	s.reply(w, r, http.StatusOK, struct{}{}, s.desk.Joined.Part(r.Context(), r.PathValue("id")))
}

func (s *Server) handleAnalysis(w http.ResponseWriter, r *http.Request) {
	clip, err := s.desk.Measured(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	a, err := s.desk.Analysis(clip)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	tag := desk.FileOf(clip.Result.Files, desk.AnalysisFile).SHA256 + "-" + words.Version()
	if old := s.desk.Outdated(clip); old.Numbers {
		told := *a // the desk's is shared
		told.Warnings = append(slices.Clone(a.Warnings), notice.New("measured_before", notice.Params{"program": old.By}))
		a, tag = &told, tag+"-old"
	}
	s.sendJSON(w, r, tag, func(out io.Writer) error {
		doc, err := screening.EncodeTold(a, said.SayAnalysis(a))
		if err == nil {
			_, err = out.Write(printable.JSON(doc))
		}
		return err
	})
}

// handleFrames sends what the network saw in each frame of the file: the points
// that the page draws and lets the coach drag.
func (s *Server) handleFrames(w http.ResponseWriter, r *http.Request) {
	clip, err := s.desk.Measured(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	a, err := s.desk.Summary(clip)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	track, err := s.desk.Track(r.Context(), clip)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.sendJSON(w, r, desk.FileOf(clip.Result.Files, work.MadeTrack).SHA256, func(out io.Writer) error {
		return writeFrames(out, a.Clip.WidthPx, a.Clip.HeightPx, track)
	})
}

// writeFrames writes a track with one decimal: a tenth of a pixel is finer than
// anybody can point at.
func writeFrames(w io.Writer, widthPx, heightPx int, t *pose.Track) error {
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
		points := t.PointsAt(i)
		if points == nil {
			b = append(b, "null"...)
			continue
		}
		b = append(b, '[')
		for k, q := range points {
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

const maxWhatRunes = 200

// parseCorrection reads a correction.
func parseCorrection(body io.Reader) (correctRequest, error) {
	var in correctRequest
	if err := answer.DecodeStrict(body, &in); err != nil {
		return in, err
	}
	if len([]rune(in.What)) > maxWhatRunes {
		return in, refusal.Wrong("description_long", words.Params{"most": maxWhatRunes})
	}
	if in.What == "" {
		in.What = words.Say("desk.correction", nil)
	}
	return in, nil
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
	body, err := answer.BodyOf(w, r, 4*answer.MaxJSONBytes)
	var in correctRequest
	if err == nil {
		in, err = parseCorrection(body)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.recompute(w, r, func(ctx context.Context, id, base string) (desk.Corrected, error) {
		return s.desk.Correct(ctx, id, base, in.Corrections, in.What)
	})
}

func (s *Server) handleUndo(w http.ResponseWriter, r *http.Request) { s.recompute(w, r, s.desk.Undo) }
func (s *Server) handleRedo(w http.ResponseWriter, r *http.Request) { s.recompute(w, r, s.desk.Redo) }

// recompute changes a clip's corrections and answers with what came of it. A page may say
// which corrections it shows (base).
func (s *Server) recompute(w http.ResponseWriter, r *http.Request,
	change func(ctx context.Context, id, base string) (desk.Corrected, error)) {
	started := time.Now()
	c, err := change(r.Context(), r.PathValue("id"), r.URL.Query().Get("base"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, correctedView{
		AnalysisChanged: true, Revision: c.Clip.Result.Revision, TookMS: int(time.Since(started).Milliseconds()),
		CanUndo: c.CanUndo, CanRedo: c.CanRedo,
	})
}

// handleRender queues the annotated video.
func (s *Server) handleRender(w http.ResponseWriter, r *http.Request) {
	job, file, err := s.desk.Render(r.Context(), r.PathValue("id"), blurred(r))
	s.reply(w, r, http.StatusAccepted, struct {
		queued
		File string `json:"file"`
	}{queued{job.ID}, file}, err)
}

func (s *Server) handleVideo(w http.ResponseWriter, r *http.Request) {
	s.sendResultFile(w, r, work.MadeWebVideo)
}

func (s *Server) handleClipFile(w http.ResponseWriter, r *http.Request) {
	s.sendResultFile(w, r, r.PathValue("name"))
}

// sendResultFile sends a file of a clip's result by its name. The name is looked
// up in the archive and never becomes a path.
func (s *Server) sendResultFile(w http.ResponseWriter, r *http.Request, name string) {
	clip, err := s.desk.Measured(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	f := desk.FileOf(clip.Result.Files, name)
	if f.Name == "" {
		err := answer.NotFound("file")
		if name == work.MadeWebVideo {
			err = &refusal.Error{Kind: refusal.Missing, Code: "file_soon"}
		}
		s.fail(w, r, err)
		return
	}
	s.sendFile(w, r, f, clip.Name)
}
