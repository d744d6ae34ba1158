package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"holdfast/archive"
	"holdfast/kinematics"
	"holdfast/printable"
	"holdfast/report"
	"holdfast/screening"
)

// comparedFrom is what a comparison was made of. It lies beside it, and tells
// whether a clip was corrected since.
type comparedFrom struct {
	// Results are the hashes of the analyses, in the order of the clips.
	Results           []string `json:"analyses_sha256"`
	SmallestChangeDeg float64  `json:"smallest_change_deg"`
	// Sides are what the clips differ in other than tempo, see screening.CompareOptions.
	Sides []string `json:"sides,omitempty"`
	// Axis is that in which the sides differ: it follows from the visits.
	Axis kinematics.Axis `json:"-"`
	// Dates are those of the clips' visits.
	Dates []string `json:"dates,omitempty"`
}

// key names the files made of it, which name the athlete.
func (c comparedFrom) key(athlete string) string {
	text := fmt.Sprintf("%s %g %q %q %s", strings.Join(c.Results, " "), c.SmallestChangeDeg, c.Sides, c.Dates, athlete)
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:4])
}

const (
	comparisonFile = "comparison.json"
	comparedFile   = "made_from.json"
	maxCompared    = 3
)

// madeOnDemand are the files of a comparison that are made when they are first
// asked for.
var madeOnDemand = []string{"report.html", "athlete.html", "coach.pdf", "athlete.pdf", "curves.svg", "overlay.png", "sidebyside.mp4"}

func (s *Server) handleCompare(w http.ResponseWriter, r *http.Request) {
	var in struct {
		Clips             []string `json:"clips"`
		SmallestChangeDeg float64  `json:"smallest_change_deg"`
	}
	err := decode(w, r, &in)
	switch {
	case err != nil:
	case len(in.Clips) == 0 || len(in.Clips) > maxCompared:
		err = badRequest("choose one to %d clips to compare", maxCompared)
	case in.SmallestChangeDeg != 0 && !(in.SmallestChangeDeg > 0 && in.SmallestChangeDeg <= 90):
		err = badRequest("the smallest change that matters takes degrees above 0 and up to 90")
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if in.SmallestChangeDeg == 0 {
		in.SmallestChangeDeg = 5
	}
	clips, err := s.clipsToCompare(r.Context(), in.Clips)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if clips, err = s.easiestFirst(r.Context(), clips); err != nil {
		s.fail(w, r, err)
		return
	}
	var ids []string
	for _, c := range clips {
		ids = append(ids, c.ID)
	}
	files, err := s.compare(r.Context(), clips, in.SmallestChangeDeg)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	c, err := s.archive.SaveComparison(r.Context(), clips[0].AthleteID, ids, files)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.log.Info("clips were compared", "comparison", c.ID)
	s.answer(w, r, http.StatusCreated, struct {
		ID string `json:"id"`
	}{c.ID})
}

// clipsToCompare finds clips, all measured and all of one athlete.
func (s *Server) clipsToCompare(ctx context.Context, ids []string) ([]archive.Clip, error) {
	var clips []archive.Clip
	for i, id := range ids {
		if slices.Contains(ids[:i], id) {
			return nil, badRequest("a clip is compared with itself")
		}
		c, err := s.clip(ctx, id)
		if err == nil {
			c, err = s.desk.fresh(ctx, c)
		}
		if err != nil {
			return nil, err
		}
		if c.Result == nil {
			return nil, errNotMeasured
		}
		if i > 0 && c.AthleteID != clips[0].AthleteID {
			return nil, badRequest("the clips are of different athletes")
		}
		clips = append(clips, c)
	}
	return clips, nil
}

// visitsOf returns the visit of each clip.
func (s *Server) visitsOf(ctx context.Context, clips []archive.Clip) (visits []archive.Visit, err error) {
	for _, c := range clips {
		v, err := s.visit(ctx, c.VisitID)
		if err != nil {
			return nil, err
		}
		visits = append(visits, v)
	}
	return visits, nil
}

func loadOf(v archive.Visit) float64 {
	if v.LoadKg == nil {
		return 0
	}
	return *v.LoadKg
}

// easiestFirst sorts clips by condition, load and date: where it is not tempos that are
// compared, the first is the baseline.
func (s *Server) easiestFirst(ctx context.Context, clips []archive.Clip) ([]archive.Clip, error) {
	visits, err := s.visitsOf(ctx, clips)
	if err != nil {
		return nil, err
	}
	of := map[string]archive.Visit{}
	for i, c := range clips {
		of[c.ID] = visits[i]
	}
	clips = slices.Clone(clips)
	slices.SortStableFunc(clips, func(a, b archive.Clip) int {
		v, w := of[a.ID], of[b.ID]
		return cmp.Or(cmp.Compare(kinematics.StateOf(v.Condition).Rank, kinematics.StateOf(w.Condition).Rank), cmp.Compare(loadOf(v), loadOf(w)), cmp.Compare(v.Date, w.Date))
	})
	return clips, nil
}

// sidesOf says what clips of these visits differ in other than tempo, and the axis of it:
// condition and load, or else the date. It is nil when they do not.
func sidesOf(visits []archive.Visit) (sides []string, axis kinematics.Axis, dates []string) {
	var conditions []string
	hardest := kinematics.States[0]
	for _, v := range visits {
		if s := kinematics.StateOf(v.Condition); s.Rank > hardest.Rank {
			hardest = s
		}
		words := v.Condition
		if v.LoadKg != nil {
			words += fmt.Sprintf(" with %g kg", *v.LoadKg)
		}
		conditions, dates = append(conditions, words), append(dates, v.Date)
	}
	for _, of := range []struct {
		words []string
		axis  kinematics.Axis
	}{{conditions, hardest.Axis}, {dates, kinematics.AxisDay}} {
		if sorted := slices.Compact(slices.Sorted(slices.Values(of.words))); len(sorted) == len(visits) && len(visits) > 1 {
			return of.words, of.axis, dates
		}
	}
	return nil, "", dates
}

// comparedNow says what a comparison of the clips would be made of.
func (s *Server) comparedNow(ctx context.Context, clips []archive.Clip, smallestDeg float64) (comparedFrom, error) {
	from := comparedFrom{SmallestChangeDeg: smallestDeg}
	for _, c := range clips {
		from.Results = append(from.Results, measuredAs(c))
	}
	visits, err := s.visitsOf(ctx, clips)
	from.Sides, from.Axis, from.Dates = sidesOf(visits)
	return from, err
}

// compare compares the current results of clips and puts what came of it into the
// archive's files.
func (s *Server) compare(ctx context.Context, clips []archive.Clip, smallestDeg float64) ([]archive.File, error) {
	from, err := s.comparedNow(ctx, clips, smallestDeg)
	if err != nil {
		return nil, err
	}
	var analyses []*screening.Analysis
	for _, c := range clips {
		a, err := s.desk.analysis(ctx, c)
		if err != nil {
			return nil, err
		}
		mine := *a                                                    // the desk's is shared
		mine.Clip.Name, mine.Clip.Path, mine.Athlete = c.Name, "", "" // the name stays in the archive's own row
		analyses = append(analyses, &mine)
	}
	comparison, err := screening.Compare(analyses, screening.CompareOptions{SmallestChangeDeg: smallestDeg, Sides: from.Sides, Axis: from.Axis, Dates: from.Dates})
	if err != nil {
		return nil, err
	}
	for i := range comparison.Clips {
		comparison.Clips[i].Path, comparison.Clips[i].Analysis = "", ""
	}
	var files []archive.File
	for _, doc := range []struct {
		name string
		v    any
	}{{comparisonFile, comparison}, {comparedFile, from}} {
		text, err := json.MarshalIndent(doc.v, "", " ")
		if err != nil {
			return nil, fmt.Errorf("writing the comparison: %w", err)
		}
		f, err := s.archive.Put(ctx, bytes.NewReader(append(printable.JSON(text), '\n')), workFileBytes)
		if err != nil {
			return nil, err
		}
		f.Name = doc.name
		files = append(files, f)
	}
	return files, nil
}

// current returns a comparison as it is now: when a clip of it was corrected since,
// it is compared anew first. The string names the files made of it.
func (s *Server) current(ctx context.Context, id string) (archive.Comparison, []archive.Clip, string, error) {
	defer s.desk.locks.hold("comparison " + id)()
	c, err := s.archive.Comparison(ctx, id)
	if err != nil {
		return c, nil, "", noSuch("comparison", err)
	}
	clips, err := s.clipsToCompare(ctx, c.ClipIDs)
	if err != nil {
		return c, nil, "", err
	}
	was, err := s.comparedFrom(ctx, c)
	if err != nil {
		return c, nil, "", err
	}
	now, err := s.comparedNow(ctx, clips, was.SmallestChangeDeg)
	if err != nil {
		return c, nil, "", err
	}
	athlete, err := s.archive.Athlete(ctx, c.AthleteID)
	if err != nil {
		return c, nil, "", err
	}
	if slices.Equal(was.Results, now.Results) && slices.Equal(was.Sides, now.Sides) && slices.Equal(was.Dates, now.Dates) {
		return c, clips, was.key(athlete.Name), nil
	}
	files, err := s.compare(ctx, clips, was.SmallestChangeDeg)
	if err != nil {
		return c, nil, "", err
	}
	// The reports of the numbers of before go with them.
	if err := s.archive.ReplaceComparisonFiles(ctx, id, files); err != nil {
		return c, nil, "", err
	}
	s.desk.reports.forget(id)
	c, err = s.archive.Comparison(ctx, id)
	return c, clips, now.key(athlete.Name), err
}

// dropReports removes what was made of an athlete's comparisons to be shared: it names
// the athlete as they were called.
func (s *Server) dropReports(ctx context.Context, athleteID string) error {
	list, err := s.archive.ComparisonsOf(ctx, athleteID)
	if err != nil {
		return err
	}
	for _, c := range list {
		release := s.desk.locks.hold("comparison " + c.ID)
		if c, err = s.archive.Comparison(ctx, c.ID); err == nil {
			err = s.archive.ReplaceComparisonFiles(ctx, c.ID, slices.DeleteFunc(c.Files, func(f archive.File) bool { return strings.HasPrefix(f.Name, madeFolder) }))
		}
		s.desk.reports.forget(c.ID)
		release()
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return err
		}
	}
	return nil
}

func (s *Server) comparedFrom(ctx context.Context, c archive.Comparison) (comparedFrom, error) {
	var from comparedFrom
	f := fileOf(c.Files, comparedFile)
	if f.SHA256 == "" {
		return comparedFrom{SmallestChangeDeg: 5}, nil // made by another program: compared anew
	}
	r, err := s.archive.OpenFile(ctx, f.SHA256)
	if err != nil {
		return from, err
	}
	defer r.Close()
	if err := json.NewDecoder(io.LimitReader(r, maxJSONBytes)).Decode(&from); err != nil {
		return from, fmt.Errorf("reading what a comparison was made of: %w: %w", archive.ErrDamaged, err)
	}
	return from, nil
}

func (s *Server) handleComparison(w http.ResponseWriter, r *http.Request) {
	c, clips, _, err := s.current(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	athlete, err := s.athlete(r.Context(), c.AthleteID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	f, err := s.archive.OpenFile(r.Context(), fileOf(c.Files, comparisonFile).SHA256)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer f.Close()
	var comparison screening.Comparison
	if err := json.NewDecoder(f).Decode(&comparison); err != nil {
		s.fail(w, r, fmt.Errorf("reading a comparison: %w: %w", archive.ErrDamaged, err))
		return
	}
	doc, err := screening.EncodeTold(&comparison)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	out := struct {
		ID         string          `json:"id"`
		Athlete    athleteView     `json:"athlete"`
		Comparison json.RawMessage `json:"comparison"`
		Said       report.Said     `json:"said"`
		Clips      []clipView      `json:"clips"`
		// Files can be asked for; those not there yet are made then.
		Files []string `json:"files"`
	}{c.ID, viewOfAthlete(athlete), doc, report.SaidOf(&comparison), nil, append([]string{comparisonFile}, madeOnDemand...)}
	for _, k := range clips {
		out.Clips = append(out.Clips, viewOfClip(k))
	}
	s.answer(w, r, http.StatusOK, out)
}

func (s *Server) handleDeleteComparison(w http.ResponseWriter, r *http.Request) {
	c, err := s.archive.Comparison(r.Context(), r.PathValue("id"))
	if err == nil {
		err = s.archive.DeleteComparison(r.Context(), c.ID)
	}
	if err != nil {
		s.fail(w, r, noSuch("comparison", err))
		return
	}
	s.answer(w, r, http.StatusOK, struct{}{})
}

// handleComparisonFile sends a file of a comparison, and has it made first when it
// is not there.
func (s *Server) handleComparisonFile(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	var f archive.File
	var athlete archive.Athlete
	// A clip may be corrected while its report is made: then it is made once more.
	for try := range 3 {
		c, _, key, err := s.current(r.Context(), r.PathValue("id"))
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if name == comparisonFile {
			s.sendFile(w, r, fileOf(c.Files, comparisonFile), "")
			return
		}
		if athlete, err = s.athlete(r.Context(), c.AthleteID); err != nil {
			s.fail(w, r, err)
			return
		}
		want := madeReport{comparison: c.ID, key: key, blur: r.URL.Query().Get("blur_face") == "1",
			video: strings.HasPrefix(name, "sidebyside") && strings.HasSuffix(name, ".mp4")}
		if f = fileOf(c.Files, want.folder()+name); f.Name != "" {
			break
		}
		if !canBeMade(name) {
			s.fail(w, r, notFound("file"))
			return
		}
		err = s.desk.reports.make(r.Context(), want)
		if errors.Is(err, errNumbersChanged) && try < 2 {
			continue
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if c, err = s.archive.Comparison(r.Context(), c.ID); err != nil {
			s.fail(w, r, noSuch("comparison", err))
			return
		}
		if f = fileOf(c.Files, want.folder()+name); f.Name == "" {
			s.fail(w, r, &problem{status: http.StatusNotFound, text: "this comparison has no such file", hint: "it may be that the clips show nothing to draw in it"})
			return
		}
		break
	}
	s.sendFile(w, r, f, athlete.Name)
}

// errNumbersChanged: a clip was corrected while the report was waited for.
var errNumbersChanged = &problem{status: http.StatusConflict, text: "a clip was corrected while the report was being made", hint: "ask for it again"}

// canBeMade says whether a report has a file of such a name.
func canBeMade(name string) bool {
	if slices.Contains(madeOnDemand, name) {
		return true
	}
	return !strings.ContainsAny(name, "/\\") && (strings.HasPrefix(name, "overlay") && strings.HasSuffix(name, ".png") ||
		strings.HasPrefix(name, "sidebyside") && strings.HasSuffix(name, ".mp4"))
}

// madeFolder begins the names of all files that were made on demand.
const madeFolder = "made-"

// madeReport names the report of a comparison in one of its forms.
type madeReport struct {
	comparison, key string
	blur, video     bool
}

// folder is where its files lie in the comparison. The key is in it, so that what
// was made before a correction is not taken for what was made after.
func (m madeReport) folder() string {
	f := madeFolder + m.key + "/"
	if m.blur {
		f += "blurred/"
	}
	return f
}

// reportOrder orders a report from a child process, of the clips as they are now. The
// error is errNumbersChanged when that is another report.
func (s *Server) reportOrder(ctx context.Context, want madeReport) (workOrder, error) {
	c, clips, key, err := s.current(ctx, want.comparison)
	if err != nil {
		return workOrder{}, err
	}
	if key != want.key {
		return workOrder{}, errNumbersChanged
	}
	athlete, err := s.archive.Athlete(ctx, c.AthleteID)
	if err != nil {
		return workOrder{}, err
	}
	was, err := s.comparedFrom(ctx, c)
	if err != nil {
		return workOrder{}, err
	}
	from, err := s.comparedNow(ctx, clips, was.SmallestChangeDeg)
	if err != nil {
		return workOrder{}, err
	}
	o := workOrder{Kind: workCompare, Athlete: athlete.Name, BlurFace: want.blur, Video: want.video, SmallestChangeDeg: from.SmallestChangeDeg,
		Sides: from.Sides, Axis: from.Axis, Dates: from.Dates, Date: s.now().Format("2006-01-02")}
	for _, k := range clips {
		o.Clips = append(o.Clips, s.orderOf(k))
	}
	return o, nil
}

// reports has reports made, one at a time, in child processes: their pictures need
// the clips decoded. Who asks for one that is being made waits for it.
type reports struct {
	s    *Server
	turn chan struct{}

	ctx  context.Context // ends with the server
	stop context.CancelFunc
	mu   sync.Mutex
	of   map[madeReport]*making
	done map[madeReport]bool // made since the server began: what it lacks, it will always lack
	all  sync.WaitGroup
}

type making struct {
	done chan struct{}
	err  error
}

const (
	maxMaking = 16
	maxMade   = 1000
)

func newReports(s *Server) *reports {
	ctx, stop := context.WithCancel(context.Background())
	return &reports{s: s, turn: make(chan struct{}, 1), ctx: ctx, stop: stop, of: map[madeReport]*making{}, done: map[madeReport]bool{}}
}

func (p *reports) close() {
	p.mu.Lock()
	p.stop()
	p.mu.Unlock()
	p.all.Wait()
}

// forget drops what is known of a comparison's reports.
func (p *reports) forget(comparison string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	maps.DeleteFunc(p.done, func(m madeReport, _ bool) bool { return m.comparison == comparison })
}

// make makes a report and returns when it is in the archive. It goes on when the
// page that asked goes away.
func (p *reports) make(ctx context.Context, want madeReport) error {
	p.mu.Lock()
	m := p.of[want]
	switch {
	case m != nil:
	case p.done[want]:
		p.mu.Unlock()
		return nil
	case p.ctx.Err() != nil:
		p.mu.Unlock()
		return &problem{status: http.StatusServiceUnavailable, text: "the server is stopping"}
	case len(p.of) >= maxMaking:
		p.mu.Unlock()
		return &problem{status: http.StatusServiceUnavailable, text: "too many reports are being made", hint: "try again in a moment", retryS: 10}
	default:
		m = &making{done: make(chan struct{})}
		p.of[want] = m
		p.all.Add(1)
		go func() {
			defer p.all.Done()
			m.err = p.work(want)
			p.mu.Lock()
			delete(p.of, want)
			if len(p.done) >= maxMade {
				clear(p.done)
			}
			p.done[want] = m.err == nil
			p.mu.Unlock()
			close(m.done)
		}()
	}
	p.mu.Unlock()
	select {
	case <-m.done:
		return m.err
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (p *reports) work(want madeReport) (err error) {
	select {
	case p.turn <- struct{}{}:
	case <-p.ctx.Done():
		return p.ctx.Err()
	}
	defer func() { <-p.turn }()
	order, err := p.s.reportOrder(p.ctx, want) // now, not before the wait
	if err != nil {
		return err
	}
	if order.Dir, err = os.MkdirTemp(p.s.opt.WorkDir, "report-"); err != nil {
		return fmt.Errorf("making a folder to work in: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(order.Dir)) }()
	err = p.s.queue.worker.run(p.ctx, order, func(l workLine) error {
		if l.Event != eventMade {
			return nil
		}
		return p.keep(want, filepath.Join(order.Dir, madeAnalysis))
	})
	var failed *workError
	if errors.As(err, &failed) {
		return &problem{status: http.StatusUnprocessableEntity, text: failed.text, hint: failed.hint, err: failed.err}
	}
	return err
}

// keep puts a report's files into the archive. What is there already stays: the
// same page with a video in it is another page.
func (p *reports) keep(want madeReport, dir string) error {
	defer p.s.desk.locks.hold("comparison " + want.comparison)()
	c, err := p.s.archive.Comparison(p.ctx, want.comparison)
	if err != nil {
		return err // deleted meanwhile: nothing of it is to be kept
	}
	athlete, err := p.s.archive.Athlete(p.ctx, c.AthleteID)
	if err != nil {
		return err
	}
	from, err := p.s.comparedFrom(p.ctx, c)
	if err != nil {
		return err
	}
	if from.key(athlete.Name) != want.key {
		return errNumbersChanged
	}
	// The numbers are kept already, without the athlete's name.
	if err := os.Remove(filepath.Join(dir, comparisonFile)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("keeping a report: %w", err)
	}
	files, err := p.s.putFolder(p.ctx, dir)
	if err != nil {
		return err
	}
	// What was made of other numbers or under another name goes.
	kept := slices.DeleteFunc(c.Files, func(f archive.File) bool {
		return strings.HasPrefix(f.Name, madeFolder) && !strings.HasPrefix(f.Name, madeFolder+want.key+"/")
	})
	for _, f := range files {
		if f.Name = want.folder() + f.Name; fileOf(kept, f.Name).Name == "" {
			kept = append(kept, f)
		}
	}
	return p.s.archive.ReplaceComparisonFiles(p.ctx, c.ID, kept)
}
