// Package movements has the movements that are known: a file of this folder each, and those that a coach wrote. What a
// movement is says package movement; every key of a file is in docs/movements.md.
//
// Like its language, the movements of a process are set once, when it starts: see [Use].
package movements

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync/atomic"

	"holdfast/kinematics/movement"
	"holdfast/words"
)

// ErrBadFile: a movement's file cannot be used; callers branch on it with errors.Is.
var ErrBadFile error = words.Error("bad_movement")

//go:embed *.toml
var shipped embed.FS

// Set is movements that are known together.
type Set struct {
	all  []*known
	keys map[string]*known
}

// known is a movement and what its file says beside it.
type known struct {
	movement.Movement
	file string
	// earlier says that results that name no movement are of this one.
	earlier bool
	// also says of the entry of unlike that is being read that it goes with the one before.
	also bool
	// text is the file's, of one that a coach wrote.
	text []byte
}

// inUse are the movements of the process.
var inUse atomic.Pointer[Set]

func init() {
	s, err := (&Set{}).with(shipped, false)
	if err != nil {
		panic("a shipped movement cannot be read: " + err.Error())
	}
	slices.SortStableFunc(s.all, func(a, b *known) int { // of two that fit as well, the first one is taken
		if a.earlier == b.earlier {
			return 0
		}
		if a.earlier {
			return -1
		}
		return 1
	})
	inUse.Store(s)
}

// Known returns the movements of the process: those that are shipped, unless [Use] was called.
func Known() *Set { return inUse.Load() }

// Use makes movements those of the process, and returns how to go back to those before. It is called before anything
// is measured, or by a test that runs alone.
func Use(s *Set) (back func()) {
	before := inUse.Swap(s)
	return func() { inUse.Store(before) }
}

// With returns the set and the movements of a folder's .toml files, in the order of their names. Its errors name the
// file, say what is wrong with it, and wrap ErrBadFile where that is what it says.
func (s *Set) With(folder fs.FS) (*Set, error) { return s.with(folder, true) }

func (s *Set) with(folder fs.FS, own bool) (*Set, error) {
	names, err := fs.Glob(folder, "*.toml")
	if err != nil {
		return nil, err
	}
	out := s
	for _, name := range names {
		text, err := fs.ReadFile(folder, name)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, errors.Join(ErrBadFile, err))
		}
		if out, err = out.plus(name, text, own); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// mostBytes bounds a file, mostOwn how many a coach may add: a server tells a child process of all of them.
const (
	mostBytes = 16 << 10
	mostOwn   = 40
)

// plus returns the set and the movement of one file.
func (s *Set) plus(name string, text []byte, own bool) (*Set, error) {
	if len(text) > mostBytes {
		return nil, fmt.Errorf("%s: %w", name, badMovement("movement_long", words.Params{"kb": mostBytes >> 10}))
	}
	k, err := read(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if other := s.keys[k.Key]; other != nil {
		return nil, fmt.Errorf("%s: %w", name, badMovement("movement_taken", words.Params{"key": k.Key, "file": other.file}))
	}
	k.file = name
	if own {
		k.text, k.earlier = text, false
	}
	if own && len(s.Own()) == mostOwn {
		return nil, fmt.Errorf("%s: %w", name, badMovement("movement_many", words.Params{"most": mostOwn}))
	}
	out := &Set{all: append(slices.Clone(s.all), k), keys: maps.Clone(s.keys)}
	if out.keys == nil {
		out.keys = map[string]*known{}
	}
	out.keys[k.Key] = k
	return out, nil
}

// Own returns the texts of the files that a coach wrote, by name, for a process that is to know the same movements.
func (s *Set) Own() map[string]string {
	out := map[string]string{}
	for _, k := range s.all {
		if k.text != nil {
			out[k.file] = string(k.text)
		}
	}
	return out
}

// WithOwn is [Set.With] of what [Set.Own] returned.
func (s *Set) WithOwn(own map[string]string) (out *Set, err error) {
	out = s
	for _, name := range slices.Sorted(maps.Keys(own)) {
		if out, err = out.plus(path.Base(name), []byte(own[name]), true); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// All returns the movements, those that are shipped first.
func (s *Set) All() []*movement.Movement {
	out := make([]*movement.Movement, len(s.all))
	for i, k := range s.all {
		out[i] = &k.Movement
	}
	return out
}

// Keys returns the keys of the movements.
func (s *Set) Keys() []string {
	out := make([]string, len(s.all))
	for i, k := range s.all {
		out[i] = k.Key
	}
	return out
}

// Of returns the movement of a key; of an empty one, as in results that name no movement, the movement that those are
// of. ok is false where it is not known.
func (s *Set) Of(key string) (m *movement.Movement, ok bool) {
	for _, k := range s.all {
		if k.Key == key || key == "" && k.earlier {
			return &k.Movement, true
		}
	}
	return nil, false
}

// Name returns what a movement is called: in the catalogue, or else by its key.
func Name(key string) string { return words.Or("movement."+key, strings.ReplaceAll(key, "_", " ")) }
