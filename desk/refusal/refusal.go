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
	"holdfast/printable"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision"
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

// Error is a refusal.
type Error struct {
	Kind  Kind
	Text  string        // what is wrong
	Hint  string        // what to do; empty: nothing that would help
	Retry time.Duration // after which trying again makes sense; 0: not said
	Err   error         // what lies beneath; nil: nothing
}

// Error returns the text, and after it that of what lies beneath.
func (e *Error) Error() string {
	if e.Err != nil {
		return e.Text + ": " + e.Err.Error()
	}
	return e.Text
}

// Unwrap returns what lies beneath.
func (e *Error) Unwrap() error { return e.Err }

// Badf refuses what cannot be meant.
func Badf(format string, args ...any) *Error {
	return &Error{Kind: Bad, Text: fmt.Sprintf(format, args...)}
}

// NoSuch says that something named so is not there, where err is the archive's word for
// that; any other error it returns as it is.
func NoSuch(what string, err error) error {
	if errors.Is(err, archive.ErrNotFound) || errors.Is(err, archive.ErrInvalid) {
		return &Error{Kind: Missing, Text: "there is no such " + what,
			Hint: "it may have been deleted; go back and reload the page"}
	}
	return err
}

// Of says in plain words what an error means to the person at the page. One that is not
// foreseen tells them nothing, as its text may name files or people: its kind is Fault.
func Of(err error) *Error {
	var e *Error
	var clip *vision.ClipError
	is := func(those ...error) bool {
		for _, one := range those {
			if errors.Is(err, one) {
				return true
			}
		}
		return false
	}
	say := func(kind Kind, text, hint string) *Error { return &Error{Kind: kind, Text: text, Hint: hint, Err: err} }
	switch {
	case errors.As(err, &e):
		return e
	case is(archive.ErrTooLarge):
		return say(TooLarge, "the file is too large", "film a shorter clip, or at a lower resolution")
	case is(archive.ErrNotFound):
		return say(Missing, "there is no such entry", "it may have been deleted; go back and reload the page")
	case is(archive.ErrInvalid):
		return say(Bad, Plain(err), "")
	case is(archive.ErrDamaged):
		return say(Fault, "a file of the archive is damaged or missing",
			"run holdfast archive check, and restore a backup if it finds more")
	case is(archive.ErrDiskFull, syscall.ENOSPC, syscall.EDQUOT):
		return say(Full, "the disk is full", "make room and try again; nothing that was kept is lost")
	case errors.As(err, &clip):
		return say(NotMeasurable, Plain(clip.Err), clip.Hint)
	case is(screening.ErrBadCorrection, screening.ErrCannotMeasure, screening.ErrNoReps, screening.ErrDifferentMovement,
		screening.ErrDifferentNetworks):
		return say(NotMeasurable, Plain(err), "")
	case is(report.ErrCannotWrite, archive.ErrCannotWrite):
		return say(Fault, "the results cannot be written", "is the disk full, or the data folder read-only?")
	case is(context.Canceled):
		return &Error{Kind: Busy, Text: "the server is stopping, or the connection broke", Hint: "try again in a moment",
			Retry: 5 * time.Second, Err: err}
	case is(context.DeadlineExceeded):
		return &Error{Kind: Busy, Text: "that took too long", Hint: "try again", Retry: 5 * time.Second, Err: err}
	}
	return say(Fault, "something went wrong that should not", "")
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
	return fmt.Sprintf("%d bytes", bytes)
}

// Clipped shortens a text that is repeated to its sender.
func Clipped(text string, mostRunes int) string {
	if r := []rune(text); len(r) > mostRunes {
		return string(r[:mostRunes]) + "..."
	}
	return text
}
