package check

import (
	"holdfast/archive/rows"
	"holdfast/words"
)

// PartialError says that something was written, but for files that are missing or not
// what was stored. It wraps rows.ErrDamaged.
type PartialError struct {
	Path   string   // where it was written
	Damage []string // what is not whole, in words
}

// Error returns how much is not whole, and where the rest is.
func (e *PartialError) Error() string {
	return words.Say("error.partial", words.Params{"n": len(e.Damage), "path": e.Path})
}

// Unwrap returns rows.ErrDamaged.
func (e *PartialError) Unwrap() error { return rows.ErrDamaged }

// Partly returns err, or, when there was none but damage, a *PartialError.
func Partly(err error, path string, damage []string) error {
	if err == nil && len(damage) > 0 {
		return &PartialError{Path: path, Damage: damage}
	}
	return err
}
