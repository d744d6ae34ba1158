package pages

import (
	"cmp"
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/desk/queue"
	"holdfast/report/said"
)

// clipCard is a clip in a list.
type clipCard struct {
	ID, Name  string
	Visit     archive.Visit
	Measured  bool
	Busy      bool // its analysis waits or runs
	Corrected bool
	Still     string // the address of a picture; empty: none
	AddedAt   time.Time
	SizeBytes int64
	Without   string // why it has no whole rep, and what to film; empty where it has one
	desk.Sum

	clip archive.Clip
}

// A still is the annotated picture with its curves; a close-up shows the athlete alone.
var (
	stillStart  = `^frames/rep(\d+)_(\d)_([a-z_-]+)_(` + strings.Join(given.Tempos, "|") + `)`
	stillName   = regexp.MustCompile(stillStart + `\.png$`)
	closeUpName = regexp.MustCompile(stillStart + `_close\.jpg$`)
)

// closeUpEnd is how the name of a still ends when it is a close-up.
const closeUpEnd = "_close.jpg"

// cardOf sums up a clip.
func (m *Maker) cardOf(c archive.Clip, v archive.Visit, busy bool) clipCard {
	card := clipCard{
		ID: c.ID, Name: c.Name, Visit: v, AddedAt: c.AddedAt, SizeBytes: c.SizeBytes,
		Measured: c.Result != nil, Busy: busy, Sum: m.Desk.SumOf(c), clip: c,
	}
	if c.Result == nil {
		return card
	}
	card.Corrected = c.Result.CorrectionSeq > 0
	if a, err := m.Desk.Summary(c); err == nil {
		card.Without = said.NoWholeRep(a)
	}
	for _, f := range c.Result.Files {
		m := closeUpName.FindStringSubmatch(f.Name)
		if m != nil && m[3] == "bottom" && !strings.Contains(card.Still, closeUpEnd) {
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
		return len(given.Tempos)
	}
	return slices.Index(given.Tempos, c.Tempos[len(c.Tempos)-1])
}

// stillAddress is where the page finds a picture; it changes with the result, so that
// the browser never shows the one of before a correction.
func stillAddress(c archive.Clip, name string) string {
	return fmt.Sprintf("/clips/%s/files/%s?r=%d", c.ID, name, c.Result.Revision)
}

// athleteCard is an athlete with the latest clips and what can be compared.
type athleteCard struct {
	Athlete archive.Athlete
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
func (m *Maker) cardsOf(ctx context.Context, athleteID string) ([]clipCard, []archive.Visit, error) {
	visits, err := m.Archive.Visits(ctx, athleteID)
	if err != nil {
		return nil, nil, err
	}
	of := map[string]archive.Visit{}
	for _, v := range visits {
		of[v.ID] = v
	}
	clips, err := m.Archive.ClipsOf(ctx, athleteID)
	if err != nil {
		return nil, nil, err
	}
	jobs, err := m.Archive.Jobs(ctx, queue.Listed)
	if err != nil {
		return nil, nil, err
	}
	cards := make([]clipCard, 0, len(clips))
	for _, c := range clips {
		busy := slices.ContainsFunc(jobs, func(j archive.Job) bool { return j.ClipID == c.ID && queue.Unfinished(j) })
		cards = append(cards, m.cardOf(c, of[c.VisitID], busy))
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
func (m *Maker) recent(ctx context.Context) ([]athleteCard, error) {
	all, err := m.Archive.Athletes(ctx)
	if err != nil {
		return nil, err
	}
	var out []athleteCard
	for _, a := range all {
		clips, err := m.Archive.ClipsOf(ctx, a.ID)
		if err != nil {
			return nil, err
		}
		if len(clips) == 0 {
			continue
		}
		card := athleteCard{Athlete: a}
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
		cards, _, err := m.cardsOf(ctx, out[i].Athlete.ID)
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

// visitCard is a visit with its clips.
type visitCard struct {
	archive.Visit
	Clips []clipCard
	Sets  []setCard // those of which a side and a front are joined
}

// comparisonCard is a comparison in a list.
type comparisonCard struct {
	ID        string
	Clips     []string // names
	CreatedAt time.Time
}

// cardsAt returns those of a visit.
func cardsAt(cards []clipCard, v archive.Visit) []clipCard {
	var out []clipCard
	for _, c := range cards {
		if c.Visit.ID == v.ID {
			out = append(out, c)
		}
	}
	return out
}
