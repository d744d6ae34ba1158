package archive

import (
	"holdfast/archive/check"
	"holdfast/archive/folder"
	"holdfast/archive/rows"
	"holdfast/words"
)

// The errors that callers branch on: those of the rooms below, and cases of ErrInvalid.
var (
	ErrNotArchive  = folder.ErrNotArchive
	ErrInUse       = folder.ErrInUse
	ErrNewerSchema = folder.ErrNewerSchema
	ErrTooLarge    = folder.ErrTooLarge
	ErrNotFound    = rows.ErrNotFound
	ErrDamaged     = rows.ErrDamaged
	ErrInvalid     = rows.ErrInvalid
	// ErrAmbiguous: several athletes have the name.
	ErrAmbiguous = words.Instead(ErrInvalid, "ambiguous", nil)
	// ErrKnownClip: an athlete has each clip once.
	ErrKnownClip = words.Instead(ErrInvalid, "known_clip", nil)
)

// PartialError says that something was written, but for files that are missing or not what was stored.
type PartialError = check.PartialError
