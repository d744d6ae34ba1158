package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"time"

	"holdfast/archive"
	"holdfast/desk/given"
	"holdfast/desk/refusal"
	"holdfast/screening"
	"holdfast/web/answer"
	"holdfast/web/noted"
	"holdfast/words"
)

type athleteView struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	HeightCm  *float64  `json:"height_cm"`
	BirthYear *int      `json:"birth_year"`
	Notes     string    `json:"notes"`
	Team      string    `json:"team"`       // or group; empty: none
	ConsentOn string    `json:"consent_on"` // a date; empty: not said
	KeepUntil string    `json:"keep_until"` // a date; empty: not said
	Example   bool      `json:"example"`
	CreatedAt time.Time `json:"created_at"`
}

func viewOfAthlete(a archive.Athlete) athleteView {
	return athleteView{a.ID, a.Name, a.HeightCm, a.BirthYear, a.Notes, a.Team, a.ConsentOn, a.KeepUntil, a.Example,
		a.CreatedAt}
}

type visitView struct {
	ID        string   `json:"id"`
	AthleteID string   `json:"athlete_id"`
	Date      string   `json:"date"`
	Condition string   `json:"condition"`
	LoadKg    *float64 `json:"load_kg"`
	Notes     string   `json:"notes"`
}

func viewOfVisit(v archive.Visit) visitView {
	return visitView{v.ID, v.AthleteID, v.Date, v.Condition, v.LoadKg, v.Notes}
}

type comparisonView struct {
	ID        string     `json:"id"`
	AthleteID string     `json:"athlete_id"`
	ClipIDs   []string   `json:"clip_ids"`
	CreatedAt time.Time  `json:"created_at"`
	Files     []fileView `json:"files"`
}

func viewOfComparison(c archive.Comparison) comparisonView {
	return comparisonView{c.ID, c.AthleteID, answer.OrEmpty(c.ClipIDs), c.CreatedAt, fileViews(c.Files)}
}

func (s *Server) handleAthletes(w http.ResponseWriter, r *http.Request) {
	list, err := s.archive.Athletes(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	type entry struct {
		athleteView
		Clips     int    `json:"clips"`
		LastVisit string `json:"last_visit"` // a date; empty without a visit
	}
	out := make([]entry, 0, len(list))
	for _, a := range list {
		e := entry{athleteView: viewOfAthlete(a)}
		clips, err := s.archive.ClipsOf(r.Context(), a.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		e.Clips = len(clips)
		visits, err := s.archive.Visits(r.Context(), a.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		for _, v := range visits {
			e.LastVisit = max(e.LastVisit, v.Date)
		}
		out = append(out, e)
	}
	s.answer(w, r, http.StatusOK, struct {
		Athletes []entry `json:"athletes"`
	}{out})
}

// athleteFields are what may be said of an athlete. What is absent is left as it
// is; null takes a number away.
type athleteFields struct {
	Name      *string               `json:"name"`
	HeightCm  answer.OptionalNumber `json:"height_cm"`
	BirthYear answer.OptionalNumber `json:"birth_year"`
	Notes     *string               `json:"notes"`
	Team      *string               `json:"team"`
	ConsentOn *string               `json:"consent_on"`
	KeepUntil *string               `json:"keep_until"`
}

func (f *athleteFields) apply(a *archive.Athlete, now time.Time) error {
	if f.Name != nil {
		name, err := checkName(*f.Name)
		if err != nil {
			return err
		}
		a.Name = name
	}
	if f.HeightCm.Sent {
		a.HeightCm = f.HeightCm.Value
	}
	if f.BirthYear.Sent {
		a.BirthYear = nil
		if y := f.BirthYear.Value; y != nil {
			year := int(*y)
			if float64(year) != *y || year < 1900 || year > now.Year() {
				return refusal.Wrong("birth_year", words.Params{"latest": now.Year()})
			}
			a.BirthYear = &year
		}
	}
	patched(&a.Notes, f.Notes)
	patched(&a.Team, f.Team)
	a.Team = given.OneLine(a.Team)
	patched(&a.ConsentOn, f.ConsentOn)
	patched(&a.KeepUntil, f.KeepUntil)
	for _, day := range []string{a.ConsentOn, a.KeepUntil} {
		if err := given.CheckDay(day); err != nil {
			return err
		}
	}
	if len([]rune(a.Team)) > given.MaxNameRunes {
		return refusal.Wrong("name_long", words.Params{"most": given.MaxNameRunes})
	}
	return errors.Join(given.Within("height", a.HeightCm, 80, 250, "cm"), checkNotes(a.Notes))
}

func (s *Server) handleNewAthlete(w http.ResponseWriter, r *http.Request) {
	var in athleteFields
	var a archive.Athlete
	err := answer.Decode(w, r, &in)
	if err == nil {
		err = in.apply(&a, s.now())
	}
	if err == nil {
		a.Name, err = checkName(a.Name)
	}
	if err == nil {
		a, err = s.archive.CreateAthlete(r.Context(), a)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	noted.Made(r.Context(), a.ID)
	s.answer(w, r, http.StatusCreated, viewOfAthlete(a))
}

func (s *Server) handleAthlete(w http.ResponseWriter, r *http.Request) {
	a, err := s.desk.Athlete(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	visits, clips, err := s.filmed(r.Context(), a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	comparisons, err := s.archive.ComparisonsOf(r.Context(), a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	out := struct {
		Athlete     athleteView      `json:"athlete"`
		Visits      []visitView      `json:"visits"`
		Clips       []clipView       `json:"clips"`
		Comparisons []comparisonView `json:"comparisons"`
	}{viewOfAthlete(a), visits, clips, []comparisonView{}}
	for _, c := range comparisons {
		out.Comparisons = append(out.Comparisons, viewOfComparison(c))
	}
	s.answer(w, r, http.StatusOK, out)
}

// filmed lists an athlete's visits and clips.
func (s *Server) filmed(ctx context.Context, athleteID string) ([]visitView, []clipView, error) {
	visits := []visitView{}
	clips := []clipView{}
	vs, err := s.archive.Visits(ctx, athleteID)
	if err != nil {
		return nil, nil, err
	}
	for _, v := range vs {
		visits = append(visits, viewOfVisit(v))
	}
	cs, err := s.archive.ClipsOf(ctx, athleteID)
	if err != nil {
		return nil, nil, err
	}
	for _, c := range cs {
		clips = append(clips, viewOfClip(c))
	}
	return visits, clips, nil
}

func (s *Server) handleChangeAthlete(w http.ResponseWriter, r *http.Request) {
	var in athleteFields
	a, err := s.desk.Athlete(r.Context(), r.PathValue("id"))
	if err == nil {
		err = answer.Decode(w, r, &in)
	}
	if err == nil {
		err = in.apply(&a, s.now())
	}
	if err == nil {
		err = s.desk.ChangeAthlete(r.Context(), a)
	}
	s.reply(w, r, http.StatusOK, viewOfAthlete(a), err)
}

// deletedView says what went.
type deletedView struct {
	Athlete     string `json:"athlete"`
	Visits      int    `json:"visits"`
	Clips       int    `json:"clips"`
	Results     int    `json:"results"`
	Comparisons int    `json:"comparisons"`
	Files       int    `json:"files"`
	Uploads     int    `json:"uploads"` // that had not come whole
	Bytes       int64  `json:"bytes"`
}

func viewOfDeleted(d archive.Deleted) deletedView {
	return deletedView{d.Athlete, d.Visits, d.Clips, d.Results, d.Comparisons, d.Files, d.Uploads, d.Bytes}
}

func (s *Server) handleDeleteAthlete(w http.ResponseWriter, r *http.Request) {
	gone, err := s.deleteAthlete(r.Context(), r.PathValue("id"))
	s.reply(w, r, http.StatusOK, viewOfDeleted(gone), err)
}

// deleteAthlete deletes an athlete with everything, clips that have not come whole too.
func (s *Server) deleteAthlete(ctx context.Context, id string) (archive.Deleted, error) {
	gone, err := s.desk.DeleteAthlete(ctx, id)
	s.intake.ForgetDeleted(context.WithoutCancel(ctx))
	return gone, err
}

func (s *Server) handleHistory(w http.ResponseWriter, r *http.Request) {
	a, err := s.desk.Athlete(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	h, err := s.desk.History(r.Context(), a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	visits, clips, err := s.filmed(r.Context(), a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	doc, err := screening.EncodeTold(&h, nil)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, struct {
		Athlete athleteView     `json:"athlete"`
		History json.RawMessage `json:"history"`
		Visits  []visitView     `json:"visits"`
		Clips   []clipView      `json:"clips"`
	}{viewOfAthlete(a), doc, visits, clips})
}

func (s *Server) handleExport(w http.ResponseWriter, r *http.Request) {
	a, err := s.desk.Athlete(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", answer.Disposition("attachment", "", a.Name+".zip"))
	w.Header().Set("Cache-Control", "no-store")
	out := &answer.Late{To: w}
	if err := s.archive.Export(r.Context(), a.ID, out); err != nil {
		if !out.Begun {
			s.fail(w, r, err)
			return
		}
		panic(http.ErrAbortHandler) // half a zip must not look like a whole one
	}
}

func (s *Server) handleChangeVisit(w http.ResponseWriter, r *http.Request) {
	var in struct {
		Date      *string               `json:"date"`
		Condition *string               `json:"condition"`
		LoadKg    answer.OptionalNumber `json:"load_kg"`
		Notes     *string               `json:"notes"`
	}
	v, err := s.desk.Visit(r.Context(), r.PathValue("id"))
	if err == nil {
		err = answer.Decode(w, r, &in)
	}
	if err == nil {
		patched(&v.Date, in.Date)
		patched(&v.Condition, in.Condition)
		patched(&v.Notes, in.Notes)
		if in.LoadKg.Sent {
			v.LoadKg = in.LoadKg.Value
		}
		check := given.Clip{Athlete: v.AthleteID, Date: v.Date, Condition: v.Condition, LoadKg: v.LoadKg}
		err = errors.Join(check.Check(), checkNotes(v.Notes))
	}
	if err == nil {
		err = s.desk.ChangeVisit(r.Context(), v)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.answer(w, r, http.StatusOK, viewOfVisit(v))
}

func (s *Server) handleDeleteVisit(w http.ResponseWriter, r *http.Request) {
	err := s.desk.DeleteVisit(r.Context(), r.PathValue("id"))
	s.intake.ForgetDeleted(context.WithoutCancel(r.Context()))
	s.reply(w, r, http.StatusOK, struct{}{}, err)
}
