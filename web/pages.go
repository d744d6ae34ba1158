package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/queue"
	"holdfast/desk/refusal"
	"holdfast/web/answer"
	"holdfast/words"
)

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed assets
var assetFiles embed.FS

// assetHash names this version of the assets. It stands in their address, so that a
// browser may keep them for ever and still never mixes two versions.
var assetHash = sync.OnceValue(func() string {
	sum := sha256.New()
	_ = fs.WalkDir(assetFiles, "assets", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := assetFiles.ReadFile(name)
		fmt.Fprintf(sum, "%s %d ", name, len(text))
		sum.Write(text)
		return err
	})
	return hex.EncodeToString(sum.Sum(nil))[:12]
})

// assetVersion is that of the assets in the language that is spoken.
func assetVersion() string { return assetHash() + "-" + words.Version() }

// assetKinds are the types of the assets; a file of another kind is not sent.
var assetKinds = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml", ".txt": "text/plain; charset=utf-8",
}

// pageTemplates holds a set for each page: the layout, what pages share, and the page.
var pageTemplates = sync.OnceValue(func() map[string]*template.Template {
	shared := template.Must(template.New("").Funcs(pageFuncs).ParseFS(templateFiles, "templates/layout.html", "templates/parts.html"))
	sets := map[string]*template.Template{}
	names, err := fs.Glob(templateFiles, "templates/*.html")
	if err != nil {
		panic(err) // the pattern is a constant
	}
	for _, name := range names {
		page := strings.TrimSuffix(path.Base(name), ".html")
		if page == "layout" || page == "parts" {
			continue
		}
		sets[page] = template.Must(template.Must(shared.Clone()).ParseFS(templateFiles, name))
	}
	return sets
})

// page is what the layout needs; Body is the page's own.
type page struct {
	Title   string
	Section string // the entry of the menu that is marked
	Script  string // the module that the page runs; empty: none but the shell
	// Plain leaves the menu away, before the password was given.
	Plain    bool
	Password bool // there is one: a way out is offered
	Body     any
}

// sendAsset sends a file that is built into the program.
func (s *Server) sendAsset(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	kind := assetKinds[path.Ext(name)]
	read := func() ([]byte, error) { return assetFiles.ReadFile("assets/" + name) }
	if name == catalogueName {
		read = catalogue
	}
	text, err := read()
	if err != nil || kind == "" || r.PathValue("hash") != assetVersion() {
		s.fail(w, r, answer.NotFound("file"))
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(text))
}

// show writes a page. It is made whole before anything is sent, so that a fault in
// it is an error and not half a page.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, name string, p page) {
	p.Password = s.gate.Needed
	s.write(w, r, status, name, "layout", p)
}

func (s *Server) write(w http.ResponseWriter, r *http.Request, status int, name, part string, data any) {
	var out bytes.Buffer
	if err := pageTemplates()[name].ExecuteTemplate(&out, part, data); err != nil {
		s.log.Error("a page cannot be made", "page", name)
		s.log.Debug("a page cannot be made", "page", name, "error", err)
		http.Error(w, say("error.page"), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(out.Bytes()) // a browser that went away is no concern of ours
	}
}

// showError shows what went wrong, and what to do.
func (s *Server) showError(w http.ResponseWriter, r *http.Request, status int, text, hint string) {
	title := say("error.title")
	if status == http.StatusNotFound {
		title = say("error.not_found")
	}
	s.show(w, r, status, "error", page{Title: title, Plain: !s.gate.Admits(r), Body: struct {
		Title, Text, Hint string
		Status            int
	}{title, sentence(text), sentence(hint), status}})
}

// sentence makes a sentence of a line as errors write it.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	text = strings.ToUpper(text[:1]) + text[1:]
	if !strings.ContainsAny(text[len(text)-1:], ".?!") {
		text += "."
	}
	return text
}

func (s *Server) loginPage(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	note := ""
	switch {
	case q.Has("wrong"):
		note = say("login.wrong")
	case q.Has("wait"):
		note = say("login.wait")
	case q.Has("expired"):
		note = say("login.expired")
	}
	if !s.gate.Needed || s.gate.Admits(r) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	s.show(w, r, http.StatusOK, "login", page{Title: say("login.title"), Plain: true, Body: note})
}

func (s *Server) aboutPage(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "about", page{Title: say("about.page"), Section: "about"})
}

// clipCard is a clip in a list.
type clipCard struct {
	ID, Name  string
	Visit     visitView
	Measured  bool
	Busy      bool // its analysis waits or runs
	Corrected bool
	Still     string // the address of a picture; empty: none
	AddedAt   time.Time
	SizeBytes int64
	desk.Sum

	clip archive.Clip
}

// A still is the annotated picture with its curves; a close-up shows the athlete alone.
var (
	stillName   = regexp.MustCompile(`^frames/rep(\d+)_(\d)_([a-z_-]+)_(` + strings.Join(desk.Tempos, "|") + `)\.png$`)
	closeUpName = regexp.MustCompile(`^frames/rep(\d+)_(\d)_([a-z_-]+)_(` + strings.Join(desk.Tempos, "|") + `)_close\.jpg$`)
)

// closeUpEnd is how the name of a still ends when it is a close-up.
const closeUpEnd = "_close.jpg"

// cardOf sums up a clip.
func (s *Server) cardOf(c archive.Clip, v archive.Visit, busy bool) clipCard {
	card := clipCard{
		ID: c.ID, Name: c.Name, Visit: viewOfVisit(v), AddedAt: c.AddedAt, SizeBytes: c.SizeBytes,
		Measured: c.Result != nil, Busy: busy, Sum: s.desk.SumOf(c), clip: c,
	}
	if c.Result == nil {
		return card
	}
	card.Corrected = c.Result.CorrectionSeq > 0
	for _, f := range c.Result.Files {
		if m := closeUpName.FindStringSubmatch(f.Name); m != nil && m[3] == "bottom" && !strings.Contains(card.Still, closeUpEnd) {
			card.Still = stillAddress(c, f.Name)
		}
		if m := stillName.FindStringSubmatch(f.Name); m != nil && m[3] == "bottom" && card.Still == "" {
			card.Still = stillAddress(c, f.Name) // made by an older version
		}
	}
	return card
}

// hardest ranks a clip by its hardest tempo, to list the easiest first.
func hardest(c clipCard) int {
	if len(c.Tempos) == 0 {
		return len(desk.Tempos)
	}
	return slices.Index(desk.Tempos, c.Tempos[len(c.Tempos)-1])
}

// stillAddress is where the page finds a picture; it changes with the result, so that
// the browser never shows the one of before a correction.
func stillAddress(c archive.Clip, name string) string {
	return fmt.Sprintf("/clips/%s/files/%s?r=%d", c.ID, name, c.Result.Revision)
}

// athleteCard is an athlete with the latest clips and what can be compared.
type athleteCard struct {
	Athlete athleteView
	Clips   []clipCard
	More    int // clips that are not listed
	Compare *suggestion
	latest  time.Time
}

// suggestion is a comparison that can be made at once.
type suggestion struct{ desk.Suggestion }

// IDs are the clips for an attribute of the page.
func (s *suggestion) IDs() string { return strings.Join(s.Clips, " ") }

// suggest returns what can be compared of these clips; nil: nothing.
func suggest(cards []clipCard) *suggestion {
	var clips []archive.Clip
	var sums []desk.Sum
	for _, c := range cards {
		clips, sums = append(clips, c.clip), append(sums, c.Sum)
	}
	s, ok := desk.Suggest(clips, sums)
	if !ok {
		return nil
	}
	return &suggestion{s}
}

// cardsOf lists all clips of an athlete, those of the latest visit first.
func (s *Server) cardsOf(ctx context.Context, athleteID string) ([]clipCard, []archive.Visit, error) {
	visits, err := s.archive.Visits(ctx, athleteID)
	if err != nil {
		return nil, nil, err
	}
	of := map[string]archive.Visit{}
	for _, v := range visits {
		of[v.ID] = v
	}
	clips, err := s.archive.ClipsOf(ctx, athleteID)
	if err != nil {
		return nil, nil, err
	}
	jobs, err := s.archive.Jobs(ctx, queue.Listed)
	if err != nil {
		return nil, nil, err
	}
	cards := make([]clipCard, 0, len(clips))
	for _, c := range clips {
		busy := slices.ContainsFunc(jobs, func(j archive.Job) bool { return j.ClipID == c.ID && queue.Unfinished(j) })
		cards = append(cards, s.cardOf(c, of[c.VisitID], busy))
	}
	slices.SortStableFunc(cards, func(a, b clipCard) int {
		return cmp.Or(cmp.Compare(b.Visit.Date, a.Visit.Date), b.AddedAt.Compare(a.AddedAt))
	})
	slices.SortStableFunc(visits, func(a, b archive.Visit) int { return cmp.Compare(b.Date, a.Date) })
	return cards, visits, nil
}

// What the first page lists.
const (
	listedAthletes = 6
	listedClips    = 6
)

// recent lists the athletes who were filmed last with their latest clips.
func (s *Server) recent(ctx context.Context) ([]athleteCard, error) {
	all, err := s.archive.Athletes(ctx)
	if err != nil {
		return nil, err
	}
	var out []athleteCard
	for _, a := range all {
		clips, err := s.archive.ClipsOf(ctx, a.ID)
		if err != nil {
			return nil, err
		}
		if len(clips) == 0 {
			continue
		}
		card := athleteCard{Athlete: viewOfAthlete(a)}
		for _, c := range clips {
			if c.AddedAt.After(card.latest) {
				card.latest = c.AddedAt
			}
		}
		out = append(out, card)
	}
	slices.SortStableFunc(out, func(a, b athleteCard) int { return b.latest.Compare(a.latest) })
	if len(out) > listedAthletes {
		out = out[:listedAthletes]
	}
	for i := range out {
		cards, _, err := s.cardsOf(ctx, out[i].Athlete.ID)
		if err != nil {
			return nil, err
		}
		out[i].Compare = suggest(cards)
		if len(cards) > listedClips {
			out[i].More = len(cards) - listedClips
			cards = cards[:listedClips]
		}
		out[i].Clips = cards
	}
	return out, nil
}

func (s *Server) homePage(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	athletes, err := s.archive.Athletes(ctx)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	recent, err := s.recent(ctx)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	body := struct {
		Athletes []athleteView
		Chosen   string
		Example  bool // it is there
		Recent   []athleteCard
		Phone    bool // another device can reach the page
		MaxBytes int64
	}{Chosen: r.URL.Query().Get("athlete"), Recent: recent, MaxBytes: s.desk.Limits.ClipBytes}
	for _, a := range athletes {
		body.Athletes = append(body.Athletes, viewOfAthlete(a))
		body.Example = body.Example || a.Example
	}
	_, body.Phone = s.gate.Shared()
	s.show(w, r, http.StatusOK, "home", page{Title: say("home.title"), Section: "home", Script: "home.js", Body: body})
}

// recentPart is the list of the latest clips alone, for the page to put in when
// something was finished.
func (s *Server) recentPart(w http.ResponseWriter, r *http.Request) {
	recent, err := s.recent(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.write(w, r, http.StatusOK, "home", "recent", recent)
}

func (s *Server) athletesPage(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	all, err := s.archive.Athletes(ctx)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	type entry struct {
		athleteView
		Clips, Visits int
		Last          string
	}
	var list []entry
	for _, a := range all {
		visits, err := s.archive.Visits(ctx, a.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		clips, err := s.archive.ClipsOf(ctx, a.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		e := entry{athleteView: viewOfAthlete(a), Clips: len(clips), Visits: len(visits)}
		for _, v := range visits {
			e.Last = max(e.Last, v.Date)
		}
		list = append(list, e)
	}
	s.show(w, r, http.StatusOK, "athletes", page{Title: say("layout.athletes"), Section: "athletes", Script: "athletes.js", Body: struct {
		List  []entry
		Blank athleteView // fills the form for a new one
	}{List: list}})
}

// visitCard is a visit with its clips.
type visitCard struct {
	visitView
	Clips []clipCard
}

// sheet is the contact sheet of one tempo: a row a phase, a column a visit.
type sheet struct {
	Tempo   string
	Columns []sheetColumn
	Rows    []sheetRow
}

type sheetColumn struct {
	Visit visitView
	Clip  string
}

type sheetRow struct {
	Phase  string
	Stills []sheetStill // one for each column
}

// sheetStill is a picture of a contact sheet: what is shown, and what it leads to.
// Both are empty where there is no such picture.
type sheetStill struct{ Shown, Large string }

// sheetColumns bounds a contact sheet: the latest visits are shown.
const sheetColumns = 8

// sheetsOf lays out the archived frames of an athlete, by tempo. Of each visit it
// takes the first whole rep of the tempo's latest clip.
func sheetsOf(clips []archive.Clip, visits []archive.Visit) []sheet {
	type pick struct {
		clip   archive.Clip
		rep    string
		stills map[string]sheetStill // by phase
	}
	phases := map[string]map[string]int{} // by tempo: the order of each phase
	picks := map[string]map[string]pick{} // by tempo and visit
	clips = slices.Clone(clips)
	slices.SortStableFunc(clips, func(a, b archive.Clip) int { return b.AddedAt.Compare(a.AddedAt) })
	for _, c := range clips {
		if c.Result == nil {
			continue
		}
		for _, f := range c.Result.Files {
			m, near := stillName.FindStringSubmatch(f.Name), false
			if m == nil {
				m, near = closeUpName.FindStringSubmatch(f.Name), true
			}
			if m == nil {
				continue
			}
			rep, order, phase, tempo := m[1], int(m[2][0]-'0'), m[3], m[4]
			if picks[tempo] == nil {
				picks[tempo], phases[tempo] = map[string]pick{}, map[string]int{}
			}
			p, have := picks[tempo][c.VisitID]
			if !have || p.clip.ID == c.ID && rep < p.rep {
				p = pick{c, rep, map[string]sheetStill{}}
			}
			if p.clip.ID != c.ID || p.rep != rep {
				continue
			}
			still := p.stills[phase]
			if address := stillAddress(c, f.Name); near {
				still.Shown = address
			} else if still.Large = address; still.Shown == "" {
				still.Shown = address // an older version made no close-ups
			}
			p.stills[phase] = still
			picks[tempo][c.VisitID] = p
			phases[tempo][phase] = order
		}
	}
	visits = slices.Clone(visits)
	slices.SortStableFunc(visits, func(a, b archive.Visit) int { return cmp.Compare(a.Date, b.Date) })
	var out []sheet
	for _, tempo := range desk.Tempos {
		sh := sheet{Tempo: tempo}
		var columns []pick
		for _, v := range visits {
			if p, have := picks[tempo][v.ID]; have {
				sh.Columns = append(sh.Columns, sheetColumn{viewOfVisit(v), p.clip.ID})
				columns = append(columns, p)
			}
		}
		if len(columns) == 0 {
			continue
		}
		if n := len(columns) - sheetColumns; n > 0 {
			sh.Columns, columns = sh.Columns[n:], columns[n:]
		}
		names := make([]string, 0, len(phases[tempo]))
		for phase := range phases[tempo] {
			names = append(names, phase)
		}
		slices.SortFunc(names, func(a, b string) int {
			return cmp.Or(cmp.Compare(phases[tempo][a], phases[tempo][b]), cmp.Compare(a, b))
		})
		for _, phase := range names {
			row := sheetRow{Phase: phase}
			for _, p := range columns {
				row.Stills = append(row.Stills, p.stills[phase])
			}
			sh.Rows = append(sh.Rows, row)
		}
		out = append(out, sh)
	}
	return out
}

// comparisonCard is a comparison in a list.
type comparisonCard struct {
	ID        string
	Clips     []string // names
	CreatedAt time.Time
}

func (s *Server) athletePage(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	a, err := s.desk.Athlete(ctx, r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	cards, visits, err := s.cardsOf(ctx, a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	clips, err := s.archive.ClipsOf(ctx, a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	comparisons, err := s.archive.ComparisonsOf(ctx, a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	body := struct {
		Athlete     athleteView
		Visits      []visitCard
		Compare     *suggestion
		Comparisons []comparisonCard
		Sheets      []sheet
		Clips       int
		Bytes       int64
		ThisYear    int
	}{Athlete: viewOfAthlete(a), Compare: suggest(cards), Sheets: sheetsOf(clips, visits), Clips: len(clips), ThisYear: s.now().Year()}
	names := map[string]string{}
	for _, c := range clips {
		names[c.ID] = c.Name
		body.Bytes += c.SizeBytes
	}
	for _, v := range visits {
		card := visitCard{visitView: viewOfVisit(v)}
		for _, c := range cards {
			if c.Visit.ID == v.ID {
				card.Clips = append(card.Clips, c)
			}
		}
		body.Visits = append(body.Visits, card)
	}
	for _, c := range comparisons {
		card := comparisonCard{ID: c.ID, CreatedAt: c.CreatedAt}
		for _, id := range c.ClipIDs {
			card.Clips = append(card.Clips, names[id])
		}
		body.Comparisons = append(body.Comparisons, card)
	}
	slices.SortStableFunc(body.Comparisons, func(a, b comparisonCard) int { return b.CreatedAt.Compare(a.CreatedAt) })
	s.show(w, r, http.StatusOK, "athlete", page{Title: a.Name, Section: "athletes", Script: "athlete.js", Body: body})
}

func (s *Server) clipPage(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	c, err := s.desk.Clip(ctx, r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	a, err := s.desk.Athlete(ctx, c.AthleteID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	v, err := s.desk.Visit(ctx, c.VisitID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	cards, _, err := s.cardsOf(ctx, a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.show(w, r, http.StatusOK, "clip", page{Title: say("clip.page", "clip", c.Name, "athlete", a.Name), Section: "athletes", Script: "clip.js", Body: struct {
		Clip     clipView
		Athlete  athleteView
		Visit    visitView
		Measured bool
		Compare  *suggestion
		Tempos   []string // the choices of the form
	}{viewOfClip(c), viewOfAthlete(a), viewOfVisit(v), c.Result != nil, suggest(cards),
		desk.Tempos}})
}

func (s *Server) comparePage(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	all, err := s.archive.Athletes(ctx)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	body := struct {
		Athletes []athleteView
		Athlete  *athleteView
		Visits   []visitCard
		Ready    int // clips that can be compared
		Waiting  int // clips that are not measured yet
		Chosen   []string
	}{}
	for _, a := range all {
		body.Athletes = append(body.Athletes, viewOfAthlete(a))
	}
	id := r.URL.Query().Get("athlete")
	if id == "" && len(all) == 1 {
		id = all[0].ID
	}
	if id != "" {
		a, err := s.desk.Athlete(ctx, id)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		view := viewOfAthlete(a)
		body.Athlete = &view
		cards, visits, err := s.cardsOf(ctx, a.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if sg := suggest(cards); sg != nil {
			body.Chosen = sg.Clips
		}
		for _, v := range visits {
			card := visitCard{visitView: viewOfVisit(v)}
			for _, c := range cards {
				if c.Visit.ID != v.ID {
					continue
				}
				if !c.Measured || c.Reps == 0 {
					body.Waiting++
					continue
				}
				body.Ready++
				card.Clips = append(card.Clips, c)
			}
			slices.SortStableFunc(card.Clips, func(a, b clipCard) int { return cmp.Compare(hardest(a), hardest(b)) })
			if len(card.Clips) > 0 {
				body.Visits = append(body.Visits, card)
			}
		}
	}
	s.show(w, r, http.StatusOK, "compare", page{Title: say("layout.compare"), Section: "compare", Script: "choose.js", Body: body})
}

func (s *Server) comparisonPage(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	c, err := s.archive.Comparison(ctx, r.PathValue("id"))
	if err != nil {
		s.fail(w, r, refusal.NoSuch("comparison", err))
		return
	}
	a, err := s.desk.Athlete(ctx, c.AthleteID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	type entry struct {
		Clip  clipView
		Visit visitView
	}
	var clips []entry
	for _, id := range c.ClipIDs {
		clip, err := s.archive.Clip(ctx, id)
		if errors.Is(err, archive.ErrNotFound) {
			continue
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
		v, err := s.desk.Visit(ctx, clip.VisitID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		clips = append(clips, entry{viewOfClip(clip), viewOfVisit(v)})
	}
	s.show(w, r, http.StatusOK, "comparison", page{Title: say("comparison.page", "athlete", a.Name), Section: "compare", Script: "comparison.js", Body: struct {
		ID        string
		Athlete   athleteView
		Clips     []entry
		CreatedAt time.Time
	}{c.ID, viewOfAthlete(a), clips, c.CreatedAt}})
}
