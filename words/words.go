// Package words holds what Holdfast says to people: one catalogue, a file for each language.
//
// A line of the catalogue has a key and a text with parameters:
//
//	long_gap = "The athlete was lost from {{number .from_s 2}} to {{number .to_s 2}} s."
//
// What computes gives codes and parameters, and whoever shows a result asks [Say] for the
// text. Parameters come in any order, a text with a number named n may have one form for the
// singular and others for the plurals that its language has, and a parameter named form chooses
// between the texts of a key that has several: KEY.FORM. The parameters are written by
//
//	{{.name}}                 text as it is
//	{{number .name 2}}        a number with so many decimals, none where they are left out
//	{{deg .name}}             an angle in whole degrees: 34°
//	{{term `point` .name}}    the text of the key point.NAME, or of each in a list
//	{{say .name}}             another notice as a part of this one, or each of a list of them
//	{{list .name `, ` ` and `}}  a list, with what stands between its items and before the last
//
// A second language is a second file beside en.toml, with the same keys.
package words

import (
	"cmp"
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"sync/atomic"
	"text/template"
	"unicode"
	"unicode/utf8"

	"github.com/BurntSushi/toml"
	"github.com/nicksnyder/go-i18n/v2/i18n"
	templates "github.com/nicksnyder/go-i18n/v2/i18n/template"
)

//go:embed en.toml
var english []byte

// Params are the parameters of a text by name, as the package comment says.
type Params = map[string]any

// Language is a catalogue that was read.
type Language struct {
	tag       string
	version   string
	keys      map[string]*i18n.Message
	localizer *i18n.Localizer
	parser    templates.Parser
}

// spoken is the language of the process.
var spoken atomic.Pointer[Language]

func init() {
	l, err := Read("en", english)
	if err != nil {
		panic("the English catalogue cannot be read: " + err.Error())
	}
	spoken.Store(l)
}

// English returns the English catalogue's file.
func English() []byte { return english }

// Read reads the catalogue of a language, in TOML. Its errors name what is wrong with the file.
func Read(tag string, file []byte) (*Language, error) {
	parsed, err := i18n.ParseMessageFileBytes(file, "active."+tag+".toml",
		map[string]i18n.UnmarshalFunc{"toml": toml.Unmarshal})
	if err != nil {
		return nil, fmt.Errorf("reading the catalogue %s: %w", tag, err)
	}
	bundle := i18n.NewBundle(parsed.Tag)
	if err := bundle.AddMessages(parsed.Tag, parsed.Messages...); err != nil {
		return nil, fmt.Errorf("reading the catalogue %s: %w", tag, err)
	}
	l := &Language{tag: tag, keys: map[string]*i18n.Message{}, localizer: i18n.NewLocalizer(bundle, tag)}
	sum := sha256.Sum256(file)
	l.version = tag + "-" + hex.EncodeToString(sum[:4])
	l.parser = keptParser{&templates.TextParser{Funcs: template.FuncMap{
		"number": l.number, "deg": l.degrees, "term": l.term, "say": l.notice, "list": list,
		"turn": l.turn, "capital": capital,
	}, Option: "missingkey=error"}}
	for _, m := range parsed.Messages {
		l.keys[m.ID] = m
	}
	return l, nil
}

// keptParser keeps what it parsed: the functions of a language never change.
type keptParser struct{ *templates.TextParser }

func (keptParser) Cacheable() bool { return true }

// Speak makes a language that of the process, and returns how to go back to the one before.
// It is called before anything is said, or by a test that runs alone.
func Speak(l *Language) (back func()) {
	before := spoken.Swap(l)
	return func() { spoken.Store(before) }
}

// Version names the language of the process and the state of its catalogue: whoever keeps an
// answer with sentences in it keeps it under this name.
func Version() string { return spoken.Load().version }

// Tag returns the language of the process as HTML names it: "en".
func Tag() string { return spoken.Load().tag }

// Say returns the text of a key; a key that is not in the catalogue is returned as it is, and
// so is one whose parameters do not fit.
func Say(key string, params Params) string { return spoken.Load().Say(key, params) }

// Try is [Say] with an error where the key is not in the catalogue or its parameters do not fit.
func Try(key string, params Params) (string, error) { return spoken.Load().Try(key, params) }

// Or returns the text of a key, and where the catalogue has none the other text: what stands
// in a result of before.
func Or(key, other string) string {
	if text, err := spoken.Load().Try(key, nil); err == nil {
		return text
	}
	return other
}

// SayAt is [Say] in a place that may have words of its own for a key, PLACE.KEY: the terminal
// names its flags, of which a page knows nothing.
func SayAt(place, key string, params Params) string {
	l := spoken.Load()
	if text, err := l.Try(place+"."+key, params); err == nil {
		return text
	}
	return l.Say(key, params)
}

// Say is the function [Say] in a language.
func (l *Language) Say(key string, params Params) string {
	text, err := l.Try(key, params)
	if err != nil {
		return key
	}
	return text
}

// Try is the function [Try] in a language.
func (l *Language) Try(key string, params Params) (string, error) {
	if form, ok := params["form"].(string); ok {
		key += "." + form
	}
	config := &i18n.LocalizeConfig{MessageID: key, TemplateData: params, TemplateParser: l.parser}
	if params == nil {
		config.TemplateData = Params{}
	}
	if n, ok := numberOf(params["n"]); ok && n == math.Trunc(n) {
		config.PluralCount = int(n)
	}
	text, err := l.localizer.Localize(config)
	if err != nil {
		return "", fmt.Errorf("the text %q: %w", key, err)
	}
	return text, nil
}

// Section returns all keys that begin with a name and a dot, without it, with their texts as
// they stand in the catalogue: of a key with plurals, by the name of the form.
func Section(name string) map[string]map[string]string {
	out := map[string]map[string]string{}
	for id, m := range spoken.Load().keys {
		if key, ok := strings.CutPrefix(id, name+"."); ok {
			forms := map[string]string{"other": m.Other}
			for form, text := range map[string]string{"zero": m.Zero, "one": m.One, "two": m.Two, "few": m.Few, "many": m.Many} {
				if text != "" {
					forms[form] = text
				}
			}
			out[key] = forms
		}
	}
	return out
}

// Number writes a number with so many decimals, a proper minus, and no minus before zero; a
// dash where it is not known.
func Number(x float64, decimals int) string { return spoken.Load().number(x, decimals) }

func (l *Language) number(value any, decimals ...int) string {
	x, ok := numberOf(value)
	if !ok {
		return fmt.Sprint(value)
	}
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return l.Say("number.unknown", nil)
	}
	digits := 0
	if len(decimals) > 0 {
		digits = decimals[0]
	}
	text := strconv.FormatFloat(math.Abs(x), 'f', digits, 64)
	if x < 0 && strings.ContainsAny(text, "123456789") {
		text = l.Say("number.minus", nil) + text
	}
	return strings.Replace(text, ".", l.Say("number.decimal", nil), 1)
}

func (l *Language) degrees(value any) string { return l.number(value) + "°" }

// term returns the text of a name of a kind, or the texts of a list of names; one that the catalogue does not
// know, such as that of a coach's own movement, is said as it is.
func (l *Language) term(kind string, value any) any {
	return each(value, func(name any) string {
		text, err := l.Try(kind+"."+fmt.Sprint(name), nil)
		if err != nil {
			return strings.ReplaceAll(fmt.Sprint(name), "_", " ")
		}
		return text
	})
}

// turn returns what the turn of a movement is called, by the parameter turn of a text: a name of the catalogue, or a
// coach's own word. Where nothing is said, it is the bottom, or the other name that is given.
func (l *Language) turn(params Params, usual ...string) any {
	called, _ := params["turn"].(string)
	return l.term("turn", cmp.Or(called, cmp.Or(usual...), "bottom"))
}

// capital returns a text with a capital letter first.
func capital(text any) string {
	s := fmt.Sprint(text)
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// notice returns the text of a notice that is a parameter, or of each of a list of them.
func (l *Language) notice(value any) any {
	return each(value, func(of any) string {
		n, ok := of.(map[string]any)
		if !ok {
			return fmt.Sprint(of)
		}
		if message, _ := n["message"].(string); message != "" {
			return message
		}
		params, _ := n["params"].(map[string]any)
		return l.Say("notice."+fmt.Sprint(n["code"]), params)
	})
}

// each calls f for a value or for all of a list of values.
func each(value any, f func(any) string) any {
	v := reflect.ValueOf(value)
	if v.Kind() != reflect.Slice {
		return f(value)
	}
	out := make([]string, v.Len())
	for i := range out {
		out[i] = f(v.Index(i).Interface())
	}
	return out
}

var errSeparators = errors.New("a list wants what stands between its items, and may say what stands before the last")

// list joins the items of a list.
func list(value any, separators ...string) (string, error) {
	if len(separators) < 1 || len(separators) > 2 {
		return "", errSeparators
	}
	items, ok := each(value, func(x any) string { return fmt.Sprint(x) }).([]string)
	if !ok {
		return fmt.Sprint(value), nil
	}
	if n := len(items) - 1; len(separators) == 2 && n > 0 {
		return strings.Join(items[:n], separators[0]) + separators[1] + items[n], nil
	}
	return strings.Join(items, separators[0]), nil
}

// numberOf returns a value as a number, if it is one.
func numberOf(value any) (float64, bool) {
	switch v := reflect.ValueOf(value); {
	case !v.IsValid():
		return 0, false
	case v.CanInt():
		return float64(v.Int()), true
	case v.CanFloat():
		return v.Float(), true
	}
	return 0, false
}
