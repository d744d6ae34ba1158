// Package refusal holds what the desk says when it does not do what it was asked: in plain
// words for the person at the page, with what to do about it.
package refusal

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"syscall"
	"time"

	"holdfast/archive"
	"holdfast/archive/disk"
	"holdfast/printable"
	"holdfast/report/resultdir"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/words"
)

// Kind says what is in the way.
type Kind int

// The kinds of refusal.
const (
	Fault         Kind = iota // of the program, the archive or the system
	Bad                       // what was sent cannot be meant
	Missing                   // there is no such thing
	Conflict                  // not as things are now
	TooLarge                  // more than is taken
	WrongType                 // a file of another kind than is taken
	NotMeasurable             // the clip cannot carry it
	Full                      // the disk has no room
	Busy                      // not now; later it may go
)

// String names a kind in one word, for whoever counts.
func (k Kind) String() string {
	names := []string{"fault", "bad", "missing", "conflict", "too_large", "wrong_type", "not_measurable", "full", "busy"}
	if int(k) < len(names) && k >= 0 {
		return names[k]
	}
	return "other"
}

// Error is a refusal. What it says is in the catalogue under its code, unless it was said
// elsewhere already: what is wrong as desk.CODE.text, what to do as desk.CODE.hint.
type Error struct {
	Kind   Kind
	Code   string
	Params words.Params
	Text   string        // what is wrong, in place of the catalogue's
	Hint   string        // what to do, in place of the catalogue's; empty: nothing that would help
	Reason string        // the code of an error of the catalogue that whoever refused named; not to be trusted
	Retry  time.Duration // after which trying again makes sense; 0: not said
	Err    error         // what lies beneath; nil: nothing
}

// Error returns the text, and after it that of what lies beneath.
func (e *Error) Error() string {
	text := e.said().Text
	if e.Err != nil {
		return text + ": " + e.Err.Error()
	}
	return text
}

// said returns the refusal with its text and hint in the language of the process.
func (e *Error) said() *Error {
	said := *e
	if text, err := words.Try("desk."+e.Code+".text", e.Params); err == nil && said.Text == "" {
		said.Text = text
	}
	if hint, err := words.Try("desk."+e.Code+".hint", e.Params); err == nil && said.Hint == "" {
		said.Hint = hint
	}
	return &said
}

// Unwrap returns what lies beneath.
func (e *Error) Unwrap() error { return e.Err }

// Wrong refuses what cannot be meant; code and parameters are those of [Error].
func Wrong(code string, params words.Params) *Error {
	return &Error{Kind: Bad, Code: code, Params: params}
}

// Because refuses what cannot be meant for what another package found.
func Because(err error) *Error { return &Error{Kind: Bad, Text: err.Error()} }

// NoSuch says that a thing of a kind (a clip, an athlete) is not there, where err is the archive's
// word for that; any other error it returns as it is.
func NoSuch(kind string, err error) error {
	if errors.Is(err, archive.ErrNotFound) || errors.Is(err, archive.ErrInvalid) {
		return &Error{Kind: Missing, Code: "no_such_" + kind, Hint: words.Say("desk.no_such.hint", nil)}
	}
	return err
}

// Of says in plain words what an error means to the person at the page. One that is not
// foreseen tells them nothing, as its text may name files or people: its kind is Fault.
func Of(err error) *Error {
	var e *Error
	var clip *media.ClipError
	is := func(those ...error) bool {
		for _, one := range those {
			if errors.Is(err, one) {
				return true
			}
		}
		return false
	}
	say := func(kind Kind, code string) *Error { return (&Error{Kind: kind, Code: code, Err: err}).said() }
	switch {
	case errors.As(err, &e):
		return e.said()
	case is(archive.ErrTooLarge):
		return say(TooLarge, "file_too_large")
	case is(archive.ErrNotFound):
		return say(Missing, "no_such")
	case is(archive.ErrInvalid):
		return &Error{Kind: Bad, Text: Plain(err), Err: err}
	case is(archive.ErrDamaged):
		return say(Fault, "damaged")
	case is(disk.ErrDiskFull, syscall.ENOSPC, syscall.EDQUOT):
		return say(Full, "disk_full")
	case errors.As(err, &clip):
		return &Error{Kind: NotMeasurable, Text: Plain(clip.Err), Hint: clip.Hint, Err: err}
	case is(screening.ErrBadCorrection, screening.ErrCannotMeasure, screening.ErrNoReps, screening.ErrDifferentMovement,
		screening.ErrDifferentNetworks):
		return &Error{Kind: NotMeasurable, Text: Plain(err), Err: err}
	case is(resultdir.ErrCannotWrite, disk.ErrCannotWrite):
		return say(Fault, "cannot_write")
	case is(context.Canceled):
		return (&Error{Kind: Busy, Code: "stopping", Retry: 5 * time.Second, Err: err}).said()
	case is(context.DeadlineExceeded):
		return (&Error{Kind: Busy, Code: "too_slow", Retry: 5 * time.Second, Err: err}).said()
	}
	return say(Fault, "fault")
}

// Plain makes one line of an error's text, which may name files and repeat what other
// programs said.
func Plain(err error) string {
	return printable.Line(strings.Join(strings.Fields(err.Error()), " "))
}

// Size writes a number of bytes as people say it.
func Size(bytes int64) string {
	switch {
	case bytes >= 1e9:
		return fmt.Sprintf("%.2g GB", float64(bytes)/1e9)
	case bytes >= 1e6:
		return fmt.Sprintf("%d MB", bytes/1e6)
	case bytes >= 1e3:
		return fmt.Sprintf("%d kB", bytes/1e3)
	}
	return words.Say("size.bytes", words.Params{"n": bytes})
}

// Clipped shortens a text that is repeated to its sender.
func Clipped(text string, mostRunes int) string {
	if r := []rune(text); len(r) > mostRunes {
		return string(r[:mostRunes]) + "..."
	}
	return text
}
