package setting

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"holdfast/internal/pseudo"
	"holdfast/kinematics"
)

func noLoad(string) error { return errors.New("a load") }

func parsed(t *testing.T, text string) (s Setting) {
	t.Helper()
	if err := s.List(text, noLoad); err != nil {
		t.Fatal(err)
	}
	return s
}

// Every field of the type stands in the table, under the key of its document.
func TestEveryFieldIsInTheTable(t *testing.T) {
	of := reflect.TypeFor[Setting]()
	for i := range of.NumField() {
		key, _, _ := strings.Cut(of.Field(i).Tag.Get("json"), ",")
		if !slices.Contains(Keys(), key) {
			t.Errorf("%s is not in the table", key)
		}
	}
	if len(Keys()) != of.NumField() {
		t.Errorf("%d keys for %d fields", len(Keys()), of.NumField())
	}
}

func TestSetting(t *testing.T) {
	s := parsed(t, "after_reps=20, heart_rate_bpm=165,exertion_0_10=8,5, cue=knees out, slowly,footwear=")
	want := "after 20 reps, heart rate 165 a minute, exertion 8.5 of 10, cue: knees out, slowly"
	if got := s.Said(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	kept, err := s.Value()
	if err != nil {
		t.Fatal(err)
	}
	var read Setting
	if err := read.Scan(kept); err != nil || read.Said() != want || read.Empty() {
		t.Errorf("read back as %q, %v", read.Said(), err)
	}
	if kept, err := (Setting{}).Value(); err != nil || kept != "" || read.Scan("") != nil || !read.Empty() {
		t.Errorf("nothing is kept as %q, %v", kept, err)
	}
	if read.Scan(3) == nil || read.Scan("{") == nil {
		t.Error("no setting was read")
	}
	load := ""
	if err := s.List("load_kg= 60", func(kg string) error { load = kg; return nil }); err != nil || load != "60" {
		t.Errorf("a load of %q, %v", load, err)
	}
}

func TestSettingRefused(t *testing.T) {
	for text, want := range map[string]string{
		"exertion_0_10=11":                 "the exertion on the scale 0 to 10 takes a number between 0 and 10",
		"exertion_6_20=5":                  "the exertion on the scale 6 to 20 takes a number between 6 and 20",
		"heart_rate_bpm=much":              "the heart rate takes a number between 20 and 250",
		"after_min=-1":                     "the minutes of work before takes a number between 0 and 1440",
		"note=" + strings.Repeat("x", 121): "the note is longer than 120 letters",
		"fun=3": `there is no "fun": write load_kg, load_pct_body_mass, after_reps, after_min, heart_rate_bpm, ` +
			`exertion_0_10, exertion_6_20, fatigue, cue, footwear or note, each with = and its value`,
	} {
		var s Setting
		if err := s.List(text, noLoad); err == nil || err.Error() != want {
			t.Errorf("%s: %v", text, err)
		}
	}
}

// Two sets are told apart by what differs between them, and by nothing else; the easier is the one with less to carry
// and less done before.
func TestSides(t *testing.T) {
	last, first := parsed(t, "after_reps=20,footwear=barefoot"), parsed(t, "footwear=barefoot")
	sides := func(sets ...Set) string {
		names, axis, _ := Sides(sets)
		return strings.Join(names, " | ") + " by " + string(axis)
	}
	for _, c := range []struct{ got, want string }{
		{sides(Set{State: "fresh", Setting: first}, Set{State: "fatigued", Setting: last}),
			"fresh | fatigued, after 20 reps by fatigue"},
		{sides(Set{State: "fresh"}, Set{State: "fresh", Setting: parsed(t, "cue=be quick")}),
			"fresh | cue: be quick by clip"},
		{sides(Set{State: "fresh"}, Set{State: "loaded", LoadKg: 62.5, Loaded: true}),
			"fresh | loaded with 62.5 kg by load"},
		{sides(Set{State: "fresh", Date: "2026-05-02"}, Set{State: "fresh", Date: "2026-05-09"}),
			"2026-05-02 | 2026-05-09 by day"},
		{sides(Set{State: "fresh"}, Set{State: "fresh"}), " by "},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	heavy := parsed(t, "load_pct_body_mass=50")
	if Harder(&first, &last) >= 0 || Harder(&heavy, &last) <= 0 || Harder(&last, &last) != 0 {
		t.Error("the harder set is not the later one")
	}
	kg := 20.0
	for state, of := range map[string]string{"fatigued": StateOf(&kg, last), "loaded": StateOf(&kg, first),
		"fresh": StateOf(nil, first)} {
		if of != state {
			t.Errorf("%s, want %s", of, state)
		}
	}
	if StateOf(nil, heavy) != kinematics.States[1].Key {
		t.Error("half of the body's mass is no load")
	}
}

// What sets differ in is said in the language that is spoken.
func TestSidesInAnotherLanguage(t *testing.T) {
	tired := parsed(t, "after_reps=1,exertion_6_20=15,load_pct_body_mass=30")
	pseudo.Speak(t)
	names, _, _ := Sides([]Set{{State: "fresh"}, {State: "loaded", LoadKg: 20, Loaded: true, Setting: tired}})
	if found := pseudo.English(strings.Join(names, " "), "kg"); len(found) > 0 || len(names) != 2 {
		t.Errorf("%q is English in %q", found, names)
	}
}
