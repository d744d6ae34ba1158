package movements

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/BurntSushi/toml"

	"holdfast/kinematics/body"
	"holdfast/kinematics/movement"
	"holdfast/words"
)

// badMovement says what is wrong with a file.
func badMovement(code string, params words.Params) error {
	return words.Because(ErrBadFile, code, params)
}

// setting is a key of a file, with the name of its table, and how its value gets into a movement.
type setting struct {
	key      string
	optional bool
	put      func(key string, k *known, value any) error
}

// Keys that are numbers are in the signal's unit where they say nothing else; mostOfUnit is more than any signal goes.
const mostOfUnit = 180

// settings are all keys of a file but those of its list unlike.
var settings = []setting{
	{"key", false, func(_ string, k *known, v any) error { return putKey(&k.Key, v) }},
	{"earlier", true, yes(func(k *known) *bool { return &k.earlier })},
	{"film", false, text(func(k *known) *string { return &k.Film })},
	{"signal.kind", false, func(key string, k *known, v any) error {
		return oneOf(key, v, kinds, func(s movement.Kind) { k.Signal.Kind = s })
	}},
	{"signal.points", true, func(key string, k *known, v any) error {
		return several(key, v, names(body.NumLandmarks), func(l []body.Landmark) { k.Signal.Points = l })
	}},
	{"signal.angle", true, func(key string, k *known, v any) error {
		return oneOf(key, v, names(body.NumAngles), func(a body.Angle) { k.Signal.Angle = a })
	}},
	{"signal.rest", true, func(key string, k *known, v any) error {
		return oneOf(key, v, map[string]bool{"stand": false, "low": true}, func(low bool) { k.Signal.RestsLow = low })
	}},
	{"signal.falls", true, yes(func(k *known) *bool { return &k.Signal.Falls })},
	{"rep.leaves", false, number(0, mostOfUnit, func(k *known) *float64 { return &k.Rep.Leaves })},
	{"rep.back", false, number(0, mostOfUnit, func(k *known) *float64 { return &k.Rep.Back })},
	{"rep.least", false, number(0, mostOfUnit, func(k *known) *float64 { return &k.Rep.Least })},
	{"rep.least_s", false, number(0, 60, func(k *known) *float64 { return &k.Rep.LeastS })},
	{"rep.least_bent", true, number(0, mostOfUnit, func(k *known) *float64 { return &k.Rep.LeastBent })},
	{"rep.bent_deg", true, number(0, 180, func(k *known) *float64 { return &k.Rep.BentDeg })},
	{"rep.least_bend_deg", false, number(0, 180, func(k *known) *float64 { return &k.Rep.LeastBendDeg })},
	{"rep.split_part", false, number(0, 1, func(k *known) *float64 { return &k.Rep.SplitPart })},
	{"turn.follow", true, func(key string, k *known, v any) error {
		return oneOf(key, v, names(body.NumAngles), func(a body.Angle) { k.Turn.Follow = a })
	}},
	{"turn.follow_from_deg", true, number(0, 180, func(k *known) *float64 { return &k.Turn.LeastDeg })},
	{"turn.called", true, text(func(k *known) *string { return &k.Turn.Called })},
	{"feet.leave_the_floor", true, yes(func(k *known) *bool { return &k.Feet.Leave })},
	{"feet.always_leave_the_floor", true, yes(func(k *known) *bool { return &k.Feet.Always })},
	{"feet.stance", true, func(key string, k *known, v any) error {
		return oneOf(key, v, stances, func(s movement.Stance) { k.Feet.Stance = s })
	}},
	{"feet.most_drift", false, number(0, 10, func(k *known) *float64 { return &k.Feet.MostDrift })},
	{"feet.most_drift_cut", false, number(0, 10, func(k *known) *float64 { return &k.Feet.MostDriftCut })},
	{"tempo.of", true, func(key string, k *known, v any) error {
		return oneOf(key, v, map[string]string{"turn": "turn", "contact": "contact", "back": "back"}, func(of string) {
			k.Tempo.OfContact, k.Tempo.OfBack = of == "contact", of == "back"
		})
	}},
	{"tempo.fast_s", false, number(0, 60, func(k *known) *float64 { return &k.Tempo.FastS })},
	{"tempo.fast_speed", false, number(0, 2000, func(k *known) *float64 { return &k.Tempo.FastSpeed })},
	{"compare.joints", false, func(key string, k *known, v any) error {
		if list, ok := v.([]any); ok && len(list) > mostJoints {
			return badMovement("movement_joints", words.Params{"most": mostJoints})
		}
		return several(key, v, names(body.NumJoints), func(j []body.Joint) { k.Joints = j })
	}},
	{"compare.positions", false, func(key string, k *known, v any) error {
		return several(key, v, names(movement.NumPositions), func(p []movement.Position) { k.Positions = p })
	}},
	{"share.name", true, func(_ string, k *known, v any) error { return putKey(&k.Share.Name, v) }},
	{"share.positions", true, func(key string, k *known, v any) error {
		return several(key, v, names(movement.NumPositions), func(p []movement.Position) { k.Share.Positions = p })
	}},
}

// mostJoints is how many joints pictures and tables have room for.
const mostJoints = 3

// placeLooks are the looks that are no angles.
var placeLooks = map[string]movement.PlaceLook{"feet_apart": movement.FeetApart, "near_foot_ahead": movement.NearAhead,
	"near_foot_above": movement.NearAbove, "trunk_ahead": movement.TrunkAhead, "feet_fall": movement.FeetFall,
	"shoulder_from_foot": movement.ShoulderFromFoot, "hand_above_foot": movement.HandAbove,
	"taller_after": movement.Taller, "hips_ahead": movement.HipsAhead,
	"shoulder_above_foot": movement.ShoulderAbove}

var stances = map[string]movement.Stance{"side_by_side": movement.SideBySide, "split": movement.Split,
	"hanging": movement.Hanging, "on_hands": movement.OnHands, "kneeling": movement.Kneeling,
	"from_box": movement.FromBox}

// unlikeSettings are the keys of an entry of the list unlike, which is the last one that was begun.
var unlikeSettings = []setting{
	{"unlike.says", false, func(key string, k *known, v any) error {
		return oneOf(key, v, seen(), func(code string) { k.last().Code = code })
	}},
	{"unlike.also", true, yes(func(k *known) *bool { return &k.also })},
	{"unlike.film", true, text(func(k *known) *string { return &k.last().Film })},
	{"unlike.look", false, func(key string, k *known, v any) error {
		name, _ := v.(string)
		if k.last().Place = placeLooks[name]; k.last().Place != movement.NoPlace {
			return nil
		}
		angles := names(body.NumAngles)
		for look := range placeLooks {
			angles[look] = body.NumAngles
		}
		return oneOf(key, v, angles, func(a body.Angle) { k.last().Angle = a })
	}},
	{"unlike.change", true, yes(func(k *known) *bool { return &k.last().Change })},
	{"unlike.after", true, yes(func(k *known) *bool { return &k.last().After })},
	{"unlike.beside", true, yes(func(k *known) *bool { return &k.last().Beside })},
	{"unlike.of_jumps", true, yes(func(k *known) *bool { return &k.last().OfJumps })},
	{"unlike.on_the_floor", true, yes(func(k *known) *bool { return &k.last().OnFloor })},
	{"unlike.above", true, number(-180, 180, func(k *known) *float64 { return &k.last().Above })},
	{"unlike.below", true, number(-180, 180, func(k *known) *float64 { return &k.last().Below })},
	{"unlike.above_angle", true, func(key string, k *known, v any) error {
		return oneOf(key, v, names(body.NumAngles), func(a body.Angle) { k.last().AboveAngle = a })
	}},
}

// seen returns the codes of what can be said of a stretch and, where nothing else was seen, of a clip.
func seen() map[string]string {
	out := map[string]string{}
	texts := words.Section("notice")
	for code := range texts {
		if of, ok := strings.CutPrefix(code, "saw_"); ok && texts[of] != nil {
			out[of] = of
		}
	}
	return out
}

func (k *known) last() *movement.Unlike { return &k.Unlike[len(k.Unlike)-1] }

var kinds = map[string]movement.Kind{"height": movement.Height, "distance": movement.Distance, "angle": movement.Angle}

// read reads the file of a movement.
func read(file []byte) (*known, error) {
	var tree map[string]any
	if err := toml.Unmarshal(file, &tree); err != nil {
		var at toml.ParseError
		if errors.As(err, &at) {
			return nil, badMovement("movement_syntax", words.Params{"line": at.Position.Line, "why": at.Message})
		}
		return nil, fmt.Errorf("%w: %w", ErrBadFile, err)
	}
	k := &known{}
	k.Turn.Follow, k.Signal.Angle = body.NumAngles, body.NumAngles
	unlike := tree["unlike"]
	delete(tree, "unlike")
	if err := fill(k, flat(tree), settings); err != nil {
		return nil, err
	}
	entries, ok := unlike.([]map[string]any)
	if unlike != nil && !ok {
		return nil, badMovement("movement_list", words.Params{"key": "unlike"})
	}
	for _, of := range entries {
		k.also = false
		k.Unlike = append(k.Unlike, movement.Unlike{Above: math.Inf(-1), Below: math.Inf(1), AboveAngle: body.NumAngles})
		if err := fill(k, flat(map[string]any{"unlike": of}), unlikeSettings); err != nil {
			return nil, err
		}
		if n := len(k.Unlike); k.also && n == 1 {
			return nil, badMovement("movement_also", nil)
		} else if k.also {
			asked := k.Unlike[n-1]
			k.Unlike = k.Unlike[:n-1]
			asked.Also, k.last().Also = k.last().Also, &asked
		}
	}
	return k, k.check()
}

// flat returns the values of all tables by their keys with the name of the table.
func flat(tree map[string]any) map[string]any {
	out := map[string]any{}
	for name, v := range tree {
		table, ok := v.(map[string]any)
		if !ok {
			out[name] = v
			continue
		}
		for key, v := range flat(table) {
			out[name+"."+key] = v
		}
	}
	return out
}

// fill puts values into a movement; all that must be there are, and no other.
func fill(k *known, values map[string]any, settings []setting) error {
	for _, s := range settings {
		v, ok := values[s.key]
		switch {
		case ok:
			if err := s.put(s.key, k, v); err != nil {
				return err
			}
			delete(values, s.key)
		case !s.optional:
			return badMovement("movement_key_missing", words.Params{"key": s.key})
		}
	}
	for _, key := range slices.Sorted(maps.Keys(values)) {
		return badMovement("movement_key_unknown", words.Params{"key": key})
	}
	return nil
}

// check holds the values against each other.
func (k *known) check() error {
	points := map[movement.Kind]int{movement.Height: 1, movement.Distance: 2}[k.Signal.Kind]
	switch r := &k.Rep; {
	case len(k.Signal.Points) != points:
		return badMovement("movement_points", words.Params{"kind": string(k.Signal.Kind), "points": points})
	case (k.Signal.Kind == movement.Angle) != (k.Signal.Angle != body.NumAngles):
		return badMovement("movement_angle", nil)
	case !(r.Back < r.Leaves && r.Leaves < r.Least):
		return badMovement("movement_order", nil)
	case r.LeastBent > 0 && !(r.Leaves < r.LeastBent && r.LeastBent <= r.Least):
		return badMovement("movement_order_bent", nil)
	case r.LeastBent > 0 && k.Turn.Follow == body.NumAngles:
		return badMovement("movement_key_missing", words.Params{"key": "turn.follow"})
	case k.Tempo.FastS == 0 || k.Tempo.FastSpeed == 0:
		return badMovement("movement_tempo", nil)
	case (k.Share.Name == "") != (len(k.Share.Positions) == 0):
		return badMovement("movement_share", nil)
	case slices.ContainsFunc(k.Share.Positions, func(p movement.Position) bool {
		return !slices.Contains(k.Positions, p)
	}):
		return badMovement("movement_share_positions", nil)
	case len(k.Joints) == 0:
		return badMovement("movement_key_missing", words.Params{"key": "compare.joints"})
	}
	return nil
}

// putKey takes the key of a movement: it is in file names and documents.
func putKey(into *string, value any) error {
	s, _ := value.(string)
	if s == "" || len(s) > 40 || strings.Trim(s, "abcdefghijklmnopqrstuvwxyz0123456789_") != "" {
		return badMovement("movement_key", nil)
	}
	*into = s
	return nil
}

func yes(into func(*known) *bool) func(string, *known, any) error {
	return func(key string, k *known, value any) error {
		v, ok := value.(bool)
		if !ok {
			return badMovement("movement_yes", words.Params{"key": key})
		}
		*into(k) = v
		return nil
	}
}

func text(into func(*known) *string) func(string, *known, any) error {
	return func(key string, k *known, value any) error {
		v, ok := value.(string)
		if v = strings.TrimSpace(v); !ok || v == "" || len(v) > 200 {
			return badMovement("movement_text", words.Params{"key": key})
		}
		*into(k) = v
		return nil
	}
}

func number(least, most float64, into func(*known) *float64) func(string, *known, any) error {
	return func(key string, k *known, value any) error {
		v, ok := value.(float64)
		if n, whole := value.(int64); whole {
			v, ok = float64(n), true
		}
		if !ok || !(v >= least && v <= most) {
			return badMovement("movement_number", words.Params{"key": key, "least": least, "most": most})
		}
		*into(k) = v
		return nil
	}
}

// names returns the names of what is counted from 0 to an end.
func names[T interface {
	~int
	String() string
}](end T) map[string]T {
	out := map[string]T{}
	for v := range end {
		out[v.String()] = v
	}
	return out
}

// oneOf takes one of some words.
func oneOf[T any](key string, value any, known map[string]T, put func(T)) error {
	s, _ := value.(string)
	v, ok := known[s]
	if !ok {
		return badMovement("movement_one_of", words.Params{"key": key, "known": slices.Sorted(maps.Keys(known))})
	}
	put(v)
	return nil
}

// several takes a list of such words, each once.
func several[T comparable](key string, value any, known map[string]T, put func([]T)) error {
	list, ok := value.([]any)
	var out []T
	for _, of := range list {
		s, _ := of.(string)
		v, known := known[s]
		ok = ok && known && !slices.Contains(out, v)
		out = append(out, v)
	}
	if !ok {
		return badMovement("movement_several", words.Params{"key": key, "known": slices.Sorted(maps.Keys(known))})
	}
	put(out)
	return nil
}
