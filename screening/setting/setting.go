// Package setting holds how a set was done, beside its tempo and what was carried: what the athlete had done before it,
// what they were told, what they wore. Two sets of one movement that differ in any of it can be compared.
//
// The fields stand in one table. Flags, forms, lists of clips, tables and the archive take them from there, by their
// keys, whose ends are their units.
package setting

import (
	"cmp"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"holdfast/words"
)

// Setting is what a coach says of a set. What is nil or empty was not said.
type Setting struct {
	// LoadPct is what was carried, in per cent of the body's mass.
	LoadPct *float64 `json:"load_pct_body_mass,omitempty"`
	// AfterReps and AfterMin are the reps, and the minutes of work, that came before the set.
	AfterReps *float64 `json:"after_reps,omitempty"`
	AfterMin  *float64 `json:"after_min,omitempty"`
	// HeartRate is in beats a minute.
	HeartRate *float64 `json:"heart_rate_bpm,omitempty"`
	// Exertion10 and Exertion20 are the athlete's own rating on the scales 0 to 10 and 6 to 20 (Borg, 1982).
	Exertion10 *float64 `json:"exertion_0_10,omitempty"`
	Exertion20 *float64 `json:"exertion_6_20,omitempty"`
	// Fatigue is what it came from, Cue what the athlete was told or what was on their mind.
	Fatigue  string `json:"fatigue,omitempty"`
	Cue      string `json:"cue,omitempty"`
	Footwear string `json:"footwear,omitempty"`
	Note     string `json:"note,omitempty"`
}

// maxRunes bounds a text.
const maxRunes = 120

// field is one of the fields: a number within bounds, or a text.
type field struct {
	key         string
	number      func(*Setting) **float64
	least, most float64
	text        func(*Setting) *string
	tires       bool // said of a set, it was one of a tired athlete
}

// fields are all of them, in the order in which they are said.
var fields = []field{
	{key: "load_pct_body_mass", most: 500, number: func(s *Setting) **float64 { return &s.LoadPct }},
	{key: "after_reps", most: 10000, tires: true, number: func(s *Setting) **float64 { return &s.AfterReps }},
	{key: "after_min", most: 1440, tires: true, number: func(s *Setting) **float64 { return &s.AfterMin }},
	{key: "heart_rate_bpm", least: 20, most: 250, tires: true,
		number: func(s *Setting) **float64 { return &s.HeartRate }},
	{key: "exertion_0_10", most: 10, tires: true, number: func(s *Setting) **float64 { return &s.Exertion10 }},
	{key: "exertion_6_20", least: 6, most: 20, tires: true,
		number: func(s *Setting) **float64 { return &s.Exertion20 }},
	{key: "fatigue", tires: true, text: func(s *Setting) *string { return &s.Fatigue }},
	{key: "cue", text: func(s *Setting) *string { return &s.Cue }},
	{key: "footwear", text: func(s *Setting) *string { return &s.Footwear }},
	{key: "note", text: func(s *Setting) *string { return &s.Note }},
}

// Keys returns the keys of the fields.
func Keys() []string {
	var out []string
	for _, f := range fields {
		out = append(out, f.key)
	}
	return out
}

// Field is a field as a form shows it.
type Field struct {
	Key, Value  string
	Number      bool
	Least, Most float64
}

// Fields returns the fields with what is said in them.
func (s Setting) Fields() []Field {
	var out []Field
	for _, f := range fields {
		out = append(out, Field{f.key, s.Get(f.key), f.number != nil, f.least, f.most})
	}
	return out
}

func fieldOf(key string) (field, bool) {
	i := slices.IndexFunc(fields, func(f field) bool { return f.key == key })
	if i < 0 {
		return field{}, false
	}
	return fields[i], true
}

// ErrSetting: what was said of a set cannot be meant.
var ErrSetting error = words.Error("setting")

// Set sets a field by its key; an empty value takes it away. known is false where there is no such field. The error
// wraps ErrSetting.
func (s *Setting) Set(key, value string) (known bool, err error) {
	f, known := fieldOf(key)
	if !known {
		return false, nil
	}
	value = strings.Join(strings.Fields(value), " ")
	if f.text != nil {
		*f.text(s) = value
		return true, s.Check()
	}
	if *f.number(s) = nil; value == "" {
		return true, nil
	}
	x, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64)
	if err != nil {
		x = math.NaN()
	}
	*f.number(s) = &x
	return true, s.Check()
}

// Get returns what is said in a field; empty: nothing.
func (s Setting) Get(key string) string {
	f, known := fieldOf(key)
	switch {
	case !known:
		return ""
	case f.text != nil:
		return *f.text(&s)
	case *f.number(&s) == nil:
		return ""
	}
	return strconv.FormatFloat(**f.number(&s), 'f', -1, 64)
}

// Check refuses what cannot be meant.
func (s *Setting) Check() error {
	for _, f := range fields {
		name := words.Say("setting.name."+f.key, nil)
		if f.text != nil {
			if text := *f.text(s); utf8.RuneCountInString(text) > maxRunes || !utf8.ValidString(text) {
				return words.Instead(ErrSetting, "setting_long", words.Params{"field": name, "most": maxRunes})
			}
		} else if x := *f.number(s); x != nil && !(*x >= f.least && *x <= f.most) {
			return words.Instead(ErrSetting, "setting_number", words.Params{"field": name, "least": f.least, "most": f.most})
		}
	}
	return nil
}

// Empty says whether nothing is said.
func (s Setting) Empty() bool { return s == Setting{} }

// OrNil returns it, or nil where nothing is said.
func (s Setting) OrNil() *Setting {
	if s.Empty() {
		return nil
	}
	return &s
}

// Tired says whether something was done before the set.
func (s Setting) Tired() bool {
	return slices.ContainsFunc(fields, func(f field) bool { return f.tires && s.Get(f.key) != "" })
}

// Said returns what is said of a set, "after 20 reps, heart rate 165 a minute": all of it, or only the fields in
// which the other sets differ from it.
func (s Setting) Said(apartFrom ...Setting) string {
	var out []string
	for _, f := range fields {
		value := s.Get(f.key)
		alike := len(apartFrom) > 0 && !slices.ContainsFunc(apartFrom, func(o Setting) bool { return o.Get(f.key) != value })
		if value == "" || alike {
			continue
		}
		params := words.Params{"value": value}
		if f.number != nil {
			params = words.Params{"n": **f.number(&s), "value": words.Number(**f.number(&s), decimals(value))}
		}
		out = append(out, words.Say("setting.said."+f.key, params))
	}
	return strings.Join(out, ", ")
}

// decimals counts those of a number.
func decimals(number string) int {
	_, after, _ := strings.Cut(number, ".")
	return len(after)
}

// Harder orders sets, negative where a was the easier: by what was carried, then by what was done before.
func Harder(a, b *Setting) int {
	for _, key := range []string{"load_pct_body_mass", "exertion_0_10", "exertion_6_20", "after_reps", "after_min",
		"heart_rate_bpm"} {
		f, _ := fieldOf(key)
		at := func(s *Setting) float64 {
			if x := *f.number(s); x != nil {
				return *x
			}
			return 0
		}
		if c := cmp.Compare(at(a), at(b)); c != 0 {
			return c
		}
	}
	return 0
}

// List reads fields as a flag gives them, "load_kg=60, after_reps=20, cue=knees out". A load is handed to loadKg.
func (s *Setting) List(text string, loadKg func(value string) error) error {
	var pairs []string
	for _, part := range strings.Split(text, ",") {
		if n := len(pairs); n > 0 && !strings.Contains(part, "=") {
			pairs[n-1] += "," + part // a comma within a text
			continue
		}
		pairs = append(pairs, part)
	}
	for _, pair := range pairs {
		key, value, _ := strings.Cut(pair, "=")
		key = strings.TrimSpace(key)
		known, err := s.Set(key, value)
		switch {
		case known:
		case key == "load_kg":
			err = loadKg(strings.TrimSpace(value))
		default:
			err = words.Instead(ErrSetting, "setting_unknown", words.Params{"given": key,
				"all": append([]string{"load_kg"}, Keys()...)})
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Scan implements sql.Scanner.
func (s *Setting) Scan(from any) error {
	*s = Setting{}
	text, ok := from.(string)
	if !ok {
		return fmt.Errorf("how a set was done is a %T, not a text", from)
	}
	if text == "" {
		return nil
	}
	return json.Unmarshal([]byte(text), s)
}

// Value implements driver.Valuer: nothing said is the empty text.
func (s Setting) Value() (driver.Value, error) {
	if s.Empty() {
		return "", nil
	}
	text, err := json.Marshal(s)
	return string(text), err
}
