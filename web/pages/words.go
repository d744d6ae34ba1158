package pages

import (
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"holdfast/desk/given"
	"holdfast/desk/refusal"
	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/kinematics/stats"
	"holdfast/movements"
	"holdfast/report/said"
	"holdfast/words"
)

// pageFuncs are the functions that templates call. What a page says is in the catalogue under
// [page]; a page that asks for what is not there, or leaves out a parameter, is not made.
var pageFuncs = template.FuncMap{
	"asset":     func(name string) string { return "/assets/" + AssetVersion() + "/" + name },
	"language":  words.Tag,
	"size":      refusal.Size,
	"states":    func() []string { return given.States },
	"movements": func() []string { return movements.Known().Keys() },
	"say":       sayOnPage,
	"saydate":   sayDate,
	"marked":    marked,
	"linked":    linked,
	"term":      term,
	"date":      dateOnPage,
	"moment":    momentOnPage,
	"amount":    amount,
	"condition": condition,
	"verdict":   verdictOnPage,
	"key":       func(cap string) template.HTML { return inTag("kbd", cap) },
	"spot": func(id string) template.HTML {
		return template.HTML(`<strong id="` + template.HTMLEscapeString(id) + `"></strong>`)
	},
}

// say returns a text of the pages that is no HTML.
func say(key string, pairs ...any) string {
	text, err := sayOnPage(key, pairs...)
	if err != nil {
		return key
	}
	return fmt.Sprint(text)
}

// sayOnPage returns a text of the pages with its parameters, given as names and values in turn:
// HTML when there is HTML among them.
func sayOnPage(key string, pairs ...any) (any, error) {
	params := words.Params{}
	isHTML := false
	for pair := range slices.Chunk(pairs, 2) {
		name, ok := pair[0].(string)
		if !ok || len(pair) != 2 {
			return "", errPairs
		}
		params[name] = pair[1]
		_, html := pair[1].(template.HTML)
		isHTML = isHTML || html
	}
	if isHTML {
		return bracketed("[", "]", key, params)
	}
	return words.Try("page."+key, params)
}

var errPairs = errors.New("a text is given names and values in turn")

// marked returns a text of the pages with what it has in brackets in an element of that name.
func marked(tag, key string, pairs ...any) (template.HTML, error) {
	params := words.Params{}
	for pair := range slices.Chunk(pairs, 2) {
		name, ok := pair[0].(string)
		html, isHTML := pair[len(pair)-1].(template.HTML)
		if !ok || !isHTML {
			return "", errPairs
		}
		params[name] = html
	}
	return bracketed("<"+tag+">", "</"+tag+">", key, params)
}

// linked returns a text of the pages with what it has in brackets as a link.
func linked(address, key string) (template.HTML, error) {
	return bracketed(`<a href="`+template.HTMLEscapeString(address)+`">`, "</a>", key, words.Params{})
}

// bracketed returns a text as HTML with something in place of its brackets. Parameters that are
// HTML stay what they are; a mark stands for each while the text is escaped.
func bracketed(before, after, key string, params words.Params) (template.HTML, error) {
	put := []string{"[", before, "]", after}
	for name, value := range params {
		if html, ok := value.(template.HTML); ok {
			mark := "\ue000" + name + "\ue001"
			put = append(put, mark, string(html))
			params[name] = mark
		}
	}
	text, err := words.Try("page."+key, params)
	return template.HTML(strings.NewReplacer(put...).Replace(template.HTMLEscapeString(text))), err
}

// term returns what a thing of a kind is called, and its own name where it has no other.
func term(kind string, name any) string {
	text := fmt.Sprint(name)
	return words.Or(kind+"."+text, text)
}

func inTag(tag, text string) template.HTML {
	return template.HTML("<" + tag + ">" + template.HTMLEscapeString(text) + "</" + tag + ">")
}

// dateOnPage returns a day (2025-05-02) that the page's script writes as the reader does.
func dateOnPage(day string) template.HTML {
	day = template.HTMLEscapeString(day)
	return template.HTML(`<time datetime="` + day + `" data-as="date">` + day + `</time>`)
}

// sayDate returns a text of the pages that knows a day.
func sayDate(key, day string) (any, error) { return sayOnPage(key, "date", dateOnPage(day)) }

// momentOnPage is the same of a moment.
func momentOnPage(t time.Time) template.HTML {
	at := t.UTC().Format(time.RFC3339)
	return template.HTML(`<time datetime="` + at + `">` + at + `</time>`)
}

// amount returns a number that somebody gave, which the page's script writes as the reader does.
func amount(x float64) template.HTML {
	text := strconv.FormatFloat(x, 'g', -1, 64)
	return template.HTML(`<data class="num" value="` + text + `" data-digits="1">` + text + `</data>`)
}

// condition returns what a visit was done in: "loaded 60 kg".
func condition(name string, loadKg *float64) (any, error) {
	of := term("condition", name)
	if loadKg == nil {
		return of, nil
	}
	return sayOnPage("visit_load", "condition", of, "load", amount(*loadKg))
}

// verdictOnPage returns a verdict as its mark and its word.
func verdictOnPage(name string) (template.HTML, error) {
	mark, ok := map[string]string{"held": "=", "lost": "▼", "gained": "▲", "unclear": "?"}[name]
	if !ok {
		return "", fmt.Errorf("there is no verdict %q", name)
	}
	word := template.HTMLEscapeString(said.VerdictWord(stats.Verdict(name)))
	return template.HTML(`<span class="verdict verdict-` + name + `"><span aria-hidden="true">` + mark + `</span>` +
		word + `</span>`), nil
}

// scriptKinds are the sections of the catalogue of which the scripts of a page name things.
var scriptKinds = []string{"tempo", "condition", "verdict", "grade", "phase", "points_to", "point", "limb", "turn",
	"turned", "movement"}

// scriptTexts are the texts that the scripts of a page say: those under [script], and the names
// of things by kind and name. One with plurals has its forms by their names.
func scriptTexts() map[string]any {
	out := map[string]any{}
	add := func(section, before string) {
		for key, forms := range words.Section(section) {
			for form, text := range forms {
				forms[form] = turnOfScripts.Replace(text)
			}
			out[before+key] = forms
			if len(forms) == 1 {
				out[before+key] = forms["other"]
			}
		}
	}
	add("script", "")
	add("report.moment", "still.")
	for _, kind := range scriptKinds {
		add(kind, kind+".")
	}
	return out
}

// turnOfScripts makes parameters of what the turn of a movement is called: scripts fill them in by themselves.
var turnOfScripts = strings.NewReplacer("{{turn .}}", "{{.turn}}", "{{capital (turn .)}}", "{{.Turn}}")

// positionSaid is what the scripts of a page say of a position: the words of the reports.
type positionSaid struct {
	Name   string `json:"name"`
	Lost   string `json:"lost"`
	Gained string `json:"gained"`
	Less   string `json:"less"`
	More   string `json:"more"`
	Look   struct {
		Lost   string `json:"lost"`
		Gained string `json:"gained"`
	} `json:"look"`
}

// catalogueName is the module with the texts of the scripts, which is made and no file.
const catalogueName = "js/catalogue.js"

// catalogue returns that module. It changes with the language, as its address does.
func catalogue() ([]byte, error) {
	texts := struct {
		Language  string                               `json:"language"`
		Texts     map[string]any                       `json:"texts"`
		Positions map[kinematics.Position]positionSaid `json:"positions"`
		Angles    map[body.Angle]string                `json:"angles"`
	}{words.Tag(), scriptTexts(), map[kinematics.Position]positionSaid{}, map[body.Angle]string{}}
	for p := range movement.NumPositions {
		q, w := kinematics.PositionQuantity(p), said.PositionWords(p)
		of := positionSaid{Name: w.Name, Lost: w.ClearlyLess, Gained: w.ClearlyMore, Less: w.Less, More: w.More}
		of.Look.Lost, of.Look.Gained = q.Look(stats.Lost), q.Look(stats.Gained)
		texts.Positions[p] = of
	}
	for a := range body.NumAngles {
		texts.Angles[a] = said.AngleWord(a)
	}
	text, err := json.Marshal(texts)
	return slices.Concat([]byte("export const catalogue = "), text, []byte(";\n")), err
}
