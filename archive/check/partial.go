package check

import (
	"fmt"

	"holdfast/archive/rows"
)

// PartialError says that something was written, but for files that are missing or not
// what was stored. It wraps rows.ErrDamaged.
type PartialError struct {
	Path   string   // where it was written
	Damage []string // what is not whole, in words
}

// Error returns how much is not whole, and where the rest is.
func (e *PartialError) Error() string {
	return fmt.Sprintf("%v: missing or not what was stored: %s; the rest is in %s", rows.ErrDamaged,
		countedFiles(len(e.Damage)), e.Path)
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
