package media

import (
	"fmt"

	"holdfast/words"
)

// The reasons for which a clip is turned away; callers branch on them with
// errors.Is.
var (
	// ErrUnreadable: no file, a folder, or a file that is no video.
	ErrUnreadable error = words.Error("unreadable")
	// ErrCutOff: an ErrUnreadable that ends before the description of its pictures.
	ErrCutOff error = words.Instead(ErrUnreadable, "unreadable", nil)
	// ErrNoVideo: the file holds sound or a still picture, but no moving picture.
	ErrNoVideo error = words.Error("no_video")
	// ErrNotInstalled: a program or library that decoding or inference needs is
	// missing.
	ErrNotInstalled error = words.Error("not_installed")
)

// ClipError says what went wrong with which clip, and what to do about it.
type ClipError struct {
	Path  string
	Doing string // what was being done, for instance "reading frame 12 at 0.40 s"
	Hint  string // what the user can do, one sentence without full stop
	Err   error
	// HintCode names the hint in the catalogue of what is said; empty for one that is not there.
	HintCode string
}

// Error returns one plain line.
func (e *ClipError) Error() string {
	s := e.Path
	if e.Doing != "" {
		s += ": " + e.Doing
	}
	s = fmt.Sprintf("%s: %v", s, e.Err)
	if e.Hint != "" {
		s += "; " + e.Hint
	}
	return s
}

// Unwrap returns the reason.
func (e *ClipError) Unwrap() error { return e.Err }

// Progress is told how far a job has come: done of total steps of a stage. A
// total of 0 means that it is not known. A nil Progress is not called.
type Progress func(stage string, done, total int)

// Report calls p unless it is nil.
func (p Progress) Report(stage string, done, total int) {
	if p != nil {
		p(stage, done, total)
	}
}
