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
	"holdfast/archive/users"
	"holdfast/desk"
	"holdfast/desk/given"
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
	// User is who has logged in; without a name where nobody has one.
	User users.User
	// Fingerprint is that of the page's certificate; empty: the page is not encrypted.
	Fingerprint string
	Body        any // the page's own

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

// Login returns the page that asks for the password, and where users have names for that; the query of its address
// says what went wrong before.
func Login(query url.Values, named bool) Page {
	note := ""
	switch {
	case query.Has("wrong"):
		note = say("login.wrong")
		if named {
			note = say("login.wrong_named")
		}
	case query.Has("wait"):
		note = say("login.wait")
	case query.Has("expired"):
		note = say("login.expired")
	}
	return Page{Name: "login", Title: say("login.title"), Plain: true, Body: struct {
		Note  string
		Named bool
	}{note, named}}
}

// About returns the page about Holdfast itself; named says that users log in by name.
func (m *Maker) About(named bool) Page {
	return Page{Name: "about", Title: say("about.page"), Section: "about", Body: struct {
		Rows, Files bool // are kept by a server
		Named       bool
	}{m.Archive.Shared(), m.Archive.FilesAway(), named}}
}

// Home returns the first page, with an athlete chosen for new clips (empty: none). shared says that another device can
// reach the page.
func (m *Maker) Home(ctx context.Context, chosen string, shared bool, today string) (Page, error) {
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
		Past     []archive.Athlete
		Clip     archive.Clip // a new one
	}{Athletes: athletes, Chosen: chosen, Recent: recent, Phone: shared, MaxBytes: m.Desk.Limits.ClipBytes}
	body.Past = slices.DeleteFunc(slices.Clone(athletes), func(a archive.Athlete) bool { return !a.PastKeeping(today) })
	example := func(a archive.Athlete) bool { return a.Example && a.Coach == archive.CoachOf(ctx) }
	body.Example = slices.ContainsFunc(athletes, example)
	body.Known = slices.ContainsFunc(athletes, func(a archive.Athlete) bool { return !example(a) })
	return Page{Name: "home", Title: say("home.title"), Section: "home", Script: "home.js", Body: body}, nil
}

// Recent returns the list of the latest clips alone, for the first page to put in when something was finished.
func (m *Maker) Recent(ctx context.Context) (Page, error) {
	recent, err := m.recent(ctx)
	return Page{Name: "home", Body: recent, part: "recent"}, err
}

// Athletes returns the page with the list of athletes. today tells who was to be kept until an earlier day.
func (m *Maker) Athletes(ctx context.Context, today string) (Page, error) {
	all, err := m.Archive.Athletes(ctx)
	if err != nil {
		return Page{}, err
	}
	var list []athleteRow
	for _, a := range all {
		visits, err := m.Archive.Visits(ctx, a.ID)
		if err != nil {
			return Page{}, err
		}
		clips, err := m.Archive.ClipsOf(ctx, a.ID)
		if err != nil {
			return Page{}, err
		}
		e := athleteRow{Athlete: a, Clips: len(clips), Visits: len(visits), Past: a.PastKeeping(today)}
		for _, v := range visits {
			e.Last = max(e.Last, v.Date)
		}
		list = append(list, e)
	}
	return Page{Name: "athletes", Title: say("layout.athletes"), Section: "athletes", Script: "athletes.js", Body: struct {
		List  []athleteRow
		Teams []team
		Blank archive.Athlete // fills the form for a new one
	}{List: list, Teams: teamsOf(list)}}, nil
}

// athleteRow is an athlete in the list of all.
type athleteRow struct {
	archive.Athlete
	Clips, Visits int
	Last          string
	Past          bool // the day until which they were to be kept
}

// team is a group of athletes in the list; Title stands over it, empty where nobody has a team.
type team struct {
	Name, Title string
	List        []athleteRow
}

// teamsOf groups a list by team, by name, those without one last.
func teamsOf(list []athleteRow) []team {
	var out []team
	for _, a := range list {
		i := slices.IndexFunc(out, func(t team) bool { return strings.EqualFold(t.Name, a.Team) })
		if i < 0 {
			i, out = len(out), append(out, team{Name: a.Team, Title: a.Team})
		}
		out[i].List = append(out[i].List, a)
	}
	slices.SortStableFunc(out, func(a, b team) int {
		if (a.Name == "") != (b.Name == "") {
			return len(b.Name) - len(a.Name)
		}
		return strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name))
	})
	if len(out) > 1 && out[len(out)-1].Name == "" {
		out[len(out)-1].Title = say("athletes.no_team")
	}
	return out
}

// real leaves out the example, to whom nothing is given.
func real(all []archive.Athlete) []archive.Athlete {
	return slices.DeleteFunc(slices.Clone(all), func(a archive.Athlete) bool { return a.Example })
}

// Athlete returns the page of an athlete: visits, comparisons and contact sheets. today is as for Athletes.
func (m *Maker) Athlete(ctx context.Context, id, today string) (Page, error) {
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
	others, err := m.othersThan(ctx, a)
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
		Past        bool
		Others      []archive.Athlete // to whom clips can be moved, this one too
	}{Athlete: a, Compare: suggest(cards), Sheets: sheetsOf(clips, visits), Clips: len(clips),
		Past: a.PastKeeping(today), Others: others}
	names := map[string]string{}
	for _, c := range clips {
		names[c.ID] = c.Name
		body.Bytes += c.SizeBytes
	}
	for _, v := range visits {
		card := visitCard{Visit: v, Clips: cardsAt(cards, v)}
		if card.Sets, err = m.setsOf(ctx, card.Clips); err != nil {
			return Page{}, err
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
	return Page{Name: "athlete", Title: a.Name, Section: "athletes", Script: "athlete.js", Body: body}, nil
}

// othersThan lists an athlete and those to whom their clips can be moved.
func (m *Maker) othersThan(ctx context.Context, a archive.Athlete) ([]archive.Athlete, error) {
	all, err := m.Archive.Athletes(ctx)
	if a.Example {
		return append([]archive.Athlete{a}, real(all)...), err
	}
	return real(all), err
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
	others, err := m.othersThan(ctx, a)
	if err != nil {
		return Page{}, err
	}
	joined, err := m.joinedOf(ctx, c)
	if err != nil {
		return Page{}, err
	}
	joinable, err := m.Desk.Joined.Joinable(ctx, c)
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
		Others   []archive.Athlete
		Joined   *joinedCard
		Joinable []archive.Clip
	}{c, a, v, c.Result != nil, suggest(cards), given.Tempos, others, joined, joinable}}, nil
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
		Ready    int        // clips that can be compared
		Waiting  int        // clips that are not measured yet
		Without  []clipCard // measured clips without a whole rep
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
		body.Ready += len(ready)
		for _, c := range here {
			if c.Without != "" {
				body.Without = append(body.Without, c)
			} else if !c.Measured {
				body.Waiting++
			}
		}
		slices.SortStableFunc(ready, func(a, b clipCard) int { return cmp.Compare(hardest(a), hardest(b)) })
		if len(ready) > 0 {
			body.Visits = append(body.Visits, visitCard{Visit: v, Clips: ready})
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
