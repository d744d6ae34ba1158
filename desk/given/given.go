// Package given is what a coach gives of a clip beside its file: whose it is, when and how it was done.
package given

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"holdfast/desk/refusal"
	"holdfast/desk/work"
	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/movements"
	"holdfast/printable"
	"holdfast/screening/setting"
	"holdfast/words"
)

// Clip is what is said about a clip beside its file.
type Clip struct {
	Athlete     string   `json:"athlete"` // an id
	AthleteName string   `json:"athlete_name"`
	Visit       string   `json:"visit"` // an id
	Date        string   `json:"date"`
	Condition   string   `json:"condition"`
	LoadKg      *float64 `json:"load_kg"`
	Tempo       string   `json:"tempo"`
	HeightCm    *float64 `json:"height_cm"`
	CaptureFPS  *float64 `json:"capture_fps"`
	Movement    string   `json:"movement"` // its key; empty: found
	// Setting is how the set was done beside all that.
	Setting setting.Setting `json:"setting"`
}

// Set fills in a field of a form, by its name. An empty value is one not given.
func (f *Clip) Set(name, value string) error {
	value = strings.TrimSpace(value)
	number := func(into **float64) error {
		if value == "" {
			return nil
		}
		x, err := strconv.ParseFloat(strings.Replace(value, ",", ".", 1), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return refusal.Wrong("not_a_number", words.Params{"field": strings.ReplaceAll(name, "_", " "),
				"value": refusal.Clipped(value, 40)})
		}
		*into = &x
		return nil
	}
	switch name {
	case "athlete":
		f.Athlete = value
	case "athlete_name":
		f.AthleteName = value
	case "visit":
		f.Visit = value
	case "date":
		f.Date = value
	case "condition":
		f.Condition = value
	case "tempo":
		f.Tempo = value
	case "load_kg":
		return number(&f.LoadKg)
	case "height_cm":
		return number(&f.HeightCm)
	case "capture_fps":
		return number(&f.CaptureFPS)
	case "movement":
		f.Movement = value
	default:
		known, err := f.Setting.Set(name, value)
		if err != nil {
			return refusal.Because(err)
		}
		if known {
			return nil
		}
		return refusal.Wrong("unknown_field", words.Params{"field": refusal.Clipped(name, 40)})
	}
	return nil
}

// Check refuses what cannot be meant, before anything is received.
func (f *Clip) Check() error {
	if f.Athlete == "" && strings.TrimSpace(f.AthleteName) == "" && f.Visit == "" {
		return &refusal.Error{Kind: refusal.Bad, Code: "whose_clip"}
	}
	if utf8.RuneCountInString(f.AthleteName) > MaxNameRunes {
		return refusal.Wrong("athlete_name_long", words.Params{"most": MaxNameRunes})
	}
	if _, err := work.TempoOf(f.Tempo); err != nil {
		return refusal.Because(err)
	}
	if _, known := movements.Known().Of(f.Movement); f.Movement != "" && !known {
		return refusal.Wrong("no_movement", words.Params{"value": refusal.Clipped(f.Movement, 40),
			"all": movements.Known().Keys()})
	}
	if err := f.Setting.Check(); err != nil {
		return refusal.Because(err)
	}
	if f.Condition != "" && !slices.Contains(States, f.Condition) {
		return refusal.Wrong("no_condition", words.Params{"value": refusal.Clipped(f.Condition, 40)})
	}
	if err := CheckDay(f.Date); err != nil {
		return err
	}
	return errors.Join(Within("height", f.HeightCm, 80, 250, "cm"), Within("load", f.LoadKg, 0, 500, "kg"),
		Within("frame_rate", f.CaptureFPS, 1, 10000, words.Say("desk_field.frames_a_second", nil)))
}

// CheckDay refuses what is no date; empty is none.
func CheckDay(day string) error {
	if _, err := time.Parse(time.DateOnly, day); day != "" && err != nil {
		return refusal.Wrong("no_date", words.Params{"value": refusal.Clipped(day, 40)})
	}
	return nil
}

// Within refuses a number outside its limits; nil is none.
func Within(what string, x *float64, least, most float64, unit string) error {
	if x == nil || *x >= least && *x <= most {
		return nil
	}
	return refusal.Wrong("outside", words.Params{"what": words.Say("desk_field."+what, nil), "least": least, "most": most,
		"unit": unit})
}

// MaxNameRunes bounds the name of an athlete and of a clip.
const MaxNameRunes = 120

// DisplayName makes of the name that a browser sends for a file one that can be
// shown: it never becomes a path. Folders and hidden characters are left out.
func DisplayName(name string) string {
	if i := strings.LastIndexAny(name, `/\`); i >= 0 {
		name = name[i+1:]
	}
	name = strings.Map(func(r rune) rune {
		switch {
		case printable.Hidden(r):
			return -1
		case strings.ContainsRune(`<>:"|?*`, r):
			return '_'
		}
		return r
	}, name)
	name = strings.Trim(OneLine(name), ". ")
	if r := []rune(name); len(r) > MaxNameRunes {
		name = string(r[:MaxNameRunes-10]) + string(r[len(r)-10:])
	}
	if name == "" {
		return "clip"
	}
	return name
}

// OneLine leaves single spaces of all white space.
func OneLine(name string) string { return strings.Join(strings.Fields(name), " ") }

// Tempos and States are the keys of what reps are compared by, the easiest first.
var Tempos, States = func() (tempos, states []string) {
	for _, t := range events.Tempos {
		tempos = append(tempos, t.String())
	}
	for _, s := range kinematics.States {
		states = append(states, s.Key)
	}
	return tempos, states
}()
