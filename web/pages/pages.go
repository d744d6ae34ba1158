package pages

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"errors"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"sync"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/refusal"
)

//go:embed templates/*.html
var templateFiles embed.FS

// pageTemplates holds a set for each page: the layout, what pages share, and the page.
var pageTemplates = sync.OnceValue(func() map[string]*template.Template {
	shared := template.Must(template.New("").Funcs(pageFuncs).
		ParseFS(templateFiles, "templates/layout.html", "templates/parts.html"))
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

// Page is a page with all that it shows.
type Page struct {
	Name    string // of its template
	Title   string
	Section string // the entry of the menu that is marked
	Script  string // the module that the page runs; empty: none but the shell
	// Plain leaves the menu away, before the password was given.
	Plain    bool
	Password bool // there is one: a way out is offered
	Body     any  // the page's own

	part string // of the template that is made alone; empty: the whole page
}

// HTML returns the page as it is sent. The error is a fault of the program.
func (p Page) HTML() ([]byte, error) {
	var out bytes.Buffer
	part, data := "layout", any(p)
	if p.part != "" {
		part, data = p.part, p.Body
	}
	err := pageTemplates()[p.Name].ExecuteTemplate(&out, part, data)
	return out.Bytes(), err
}

// NoPage returns what is said in place of a page that cannot be made.
func NoPage() string { return say("error.page") }

// Maker makes the pages of one archive. Its methods that take an identifier fail as the desk does when there is
// no such thing.
type Maker struct {
	Archive *archive.Archive
	Desk    *desk.Desk
}

// Failure returns the page that says what went wrong, and what to do, with the status of its answer.
func Failure(status int, text, hint string) Page {
	title := say("error.title")
	if status == http.StatusNotFound {
		title = say("error.not_found")
	}
	return Page{Name: "error", Title: title, Body: struct {
		Title, Text, Hint string
		Status            int
	}{title, sentence(text), sentence(hint), status}}
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

// Login returns the page that asks for the password; the query of its address says what went wrong before.
func Login(query url.Values) Page {
	note := ""
	switch {
	case query.Has("wrong"):
		note = say("login.wrong")
	case query.Has("wait"):
		note = say("login.wait")
	case query.Has("expired"):
		note = say("login.expired")
	}
	return Page{Name: "login", Title: say("login.title"), Plain: true, Body: note}
}

// About returns the page about Holdfast itself.
func About() Page { return Page{Name: "about", Title: say("about.page"), Section: "about"} }

// Home returns the first page, with an athlete chosen for new clips (empty: none). shared says that another device can
// reach the page.
func (m *Maker) Home(ctx context.Context, chosen string, shared bool) (Page, error) {
	athletes, err := m.Archive.Athletes(ctx)
	if err != nil {
		return Page{}, err
	}
	recent, err := m.recent(ctx)
	if err != nil {
		return Page{}, err
	}
	body := struct {
		Athletes []archive.Athlete
		Chosen   string
		Known    bool // there are athletes to choose from
		Example  bool // it is there
		Recent   []athleteCard
		Phone    bool
		MaxBytes int64
	}{Athletes: athletes, Chosen: chosen, Recent: recent, Phone: shared, MaxBytes: m.Desk.Limits.ClipBytes}
	example := func(a archive.Athlete) bool { return a.Example }
	body.Example = slices.ContainsFunc(athletes, example)
	body.Known = slices.ContainsFunc(athletes, func(a archive.Athlete) bool { return !example(a) })
	return Page{Name: "home", Title: say("home.title"), Section: "home", Script: "home.js", Body: body}, nil
}

// Recent returns the list of the latest clips alone, for the first page to put in when something was finished.
func (m *Maker) Recent(ctx context.Context) (Page, error) {
	recent, err := m.recent(ctx)
	return Page{Name: "home", Body: recent, part: "recent"}, err
}

// Athletes returns the page with the list of athletes.
func (m *Maker) Athletes(ctx context.Context) (Page, error) {
	all, err := m.Archive.Athletes(ctx)
	if err != nil {
		return Page{}, err
	}
	type entry struct {
		archive.Athlete
		Clips, Visits int
		Last          string
	}
	var list []entry
	for _, a := range all {
		visits, err := m.Archive.Visits(ctx, a.ID)
		if err != nil {
			return Page{}, err
		}
		clips, err := m.Archive.ClipsOf(ctx, a.ID)
		if err != nil {
			return Page{}, err
		}
		e := entry{Athlete: a, Clips: len(clips), Visits: len(visits)}
		for _, v := range visits {
			e.Last = max(e.Last, v.Date)
		}
		list = append(list, e)
	}
	return Page{Name: "athletes", Title: say("layout.athletes"), Section: "athletes", Script: "athletes.js", Body: struct {
		List  []entry
		Blank archive.Athlete // fills the form for a new one
	}{List: list}}, nil
}

// Athlete returns the page of an athlete: visits, comparisons and contact sheets. thisYear bounds the year of birth.
func (m *Maker) Athlete(ctx context.Context, id string, thisYear int) (Page, error) {
	a, err := m.Desk.Athlete(ctx, id)
	if err != nil {
		return Page{}, err
	}
	cards, visits, err := m.cardsOf(ctx, a.ID)
	if err != nil {
		return Page{}, err
	}
	clips, err := m.Archive.ClipsOf(ctx, a.ID)
	if err != nil {
		return Page{}, err
	}
	comparisons, err := m.Archive.ComparisonsOf(ctx, a.ID)
	if err != nil {
		return Page{}, err
	}
	body := struct {
		Athlete     archive.Athlete
		Visits      []visitCard
		Compare     *suggestion
		Comparisons []comparisonCard
		Sheets      []sheet
		Clips       int
		Bytes       int64
		ThisYear    int
	}{Athlete: a, Compare: suggest(cards), Sheets: sheetsOf(clips, visits), Clips: len(clips), ThisYear: thisYear}
	names := map[string]string{}
	for _, c := range clips {
		names[c.ID] = c.Name
		body.Bytes += c.SizeBytes
	}
	for _, v := range visits {
		body.Visits = append(body.Visits, visitCard{v, cardsAt(cards, v)})
	}
	for _, c := range comparisons {
		card := comparisonCard{ID: c.ID, CreatedAt: c.CreatedAt}
		for _, id := range c.ClipIDs {
			card.Clips = append(card.Clips, names[id])
		}
		body.Comparisons = append(body.Comparisons, card)
	}
	slices.SortStableFunc(body.Comparisons, func(a, b comparisonCard) int { return b.CreatedAt.Compare(a.CreatedAt) })
	return Page{Name: "athlete", Title: a.Name, Section: "athletes", Script: "athlete.js", Body: body}, nil
}

// Clip returns the page of a clip.
func (m *Maker) Clip(ctx context.Context, id string) (Page, error) {
	c, err := m.Desk.Clip(ctx, id)
	if err != nil {
		return Page{}, err
	}
	a, err := m.Desk.Athlete(ctx, c.AthleteID)
	if err != nil {
		return Page{}, err
	}
	v, err := m.Desk.Visit(ctx, c.VisitID)
	if err != nil {
		return Page{}, err
	}
	cards, _, err := m.cardsOf(ctx, a.ID)
	if err != nil {
		return Page{}, err
	}
	title := say("clip.page", "clip", c.Name, "athlete", a.Name)
	return Page{Name: "clip", Title: title, Section: "athletes", Script: "clip.js", Body: struct {
		Clip     archive.Clip
		Athlete  archive.Athlete
		Visit    archive.Visit
		Measured bool
		Compare  *suggestion
		Tempos   []string // the choices of the form
	}{c, a, v, c.Result != nil, suggest(cards), desk.Tempos}}, nil
}

// Compare returns the page where clips of an athlete are chosen for a comparison; without an athlete (empty) it asks
// for one, should there be several.
func (m *Maker) Compare(ctx context.Context, athleteID string) (Page, error) {
	all, err := m.Archive.Athletes(ctx)
	if err != nil {
		return Page{}, err
	}
	body := struct {
		Athletes []archive.Athlete
		Athlete  *archive.Athlete
		Visits   []visitCard
		Ready    int // clips that can be compared
		Waiting  int // clips that are not measured yet
		Chosen   []string
	}{Athletes: all}
	if athleteID == "" && len(all) == 1 {
		athleteID = all[0].ID
	}
	page := Page{Name: "compare", Title: say("layout.compare"), Section: "compare", Script: "choose.js"}
	if athleteID == "" {
		page.Body = body
		return page, nil
	}
	a, err := m.Desk.Athlete(ctx, athleteID)
	if err != nil {
		return Page{}, err
	}
	cards, visits, err := m.cardsOf(ctx, a.ID)
	if err != nil {
		return Page{}, err
	}
	body.Athlete = &a
	if sg := suggest(cards); sg != nil {
		body.Chosen = sg.Clips
	}
	for _, v := range visits {
		here := cardsAt(cards, v)
		ready := slices.DeleteFunc(slices.Clone(here), func(c clipCard) bool { return !c.Measured || c.Reps == 0 })
		body.Ready, body.Waiting = body.Ready+len(ready), body.Waiting+len(here)-len(ready)
		slices.SortStableFunc(ready, func(a, b clipCard) int { return cmp.Compare(hardest(a), hardest(b)) })
		if len(ready) > 0 {
			body.Visits = append(body.Visits, visitCard{v, ready})
		}
	}
	page.Body = body
	return page, nil
}

// Comparison returns the page of a comparison. Clips that were deleted since are left out.
func (m *Maker) Comparison(ctx context.Context, id string) (Page, error) {
	c, err := m.Archive.Comparison(ctx, id)
	if err != nil {
		return Page{}, refusal.NoSuch("comparison", err)
	}
	a, err := m.Desk.Athlete(ctx, c.AthleteID)
	if err != nil {
		return Page{}, err
	}
	type entry struct {
		Clip  archive.Clip
		Visit archive.Visit
	}
	var clips []entry
	for _, id := range c.ClipIDs {
		clip, err := m.Archive.Clip(ctx, id)
		if errors.Is(err, archive.ErrNotFound) {
			continue
		}
		if err != nil {
			return Page{}, err
		}
		v, err := m.Desk.Visit(ctx, clip.VisitID)
		if err != nil {
			return Page{}, err
		}
		clips = append(clips, entry{clip, v})
	}
	title := say("comparison.page", "athlete", a.Name)
	return Page{Name: "comparison", Title: title, Section: "compare", Script: "comparison.js", Body: struct {
		ID        string
		Athlete   archive.Athlete
		Clips     []entry
		CreatedAt time.Time
	}{c.ID, a, clips, c.CreatedAt}}, nil
}
