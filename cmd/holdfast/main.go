// Command holdfast measures how much range of motion an athlete keeps when a
// movement gets fast: from clips of a phone to a table, an annotated video and a
// report.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"

	"holdfast/archive"
	"holdfast/archive/disk"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/models"
	"holdfast/movements"
	"holdfast/printable"
	"holdfast/report/resultdir"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/words"
)

// The exit codes. They are part of the program's interface: scripts branch on
// them, so a number never changes its meaning.
const (
	exitOK           = 0
	exitUnexpected   = 1
	exitUsage        = 2
	exitUnreadable   = 3
	exitUnmeasurable = 4
	exitCannotWrite  = 5
	exitNotInstalled = 6
	exitInterrupted  = 130 // what shells report for a program that SIGINT ended
)

// exitCode gives the exit code of an error. A joined error gets the highest code
// of its parts, so the cases run from the highest down.
func exitCode(err error) int {
	is := func(targets ...error) bool {
		return slices.ContainsFunc(targets, func(t error) bool { return errors.Is(err, t) })
	}
	var usage terminal.UsageError
	switch {
	case err == nil:
		return exitOK
	case is(context.Canceled):
		return exitInterrupted
	case is(media.ErrNotInstalled, models.ErrNoRuntime, models.ErrTelemetry, models.ErrCorrupt, errMissing):
		return exitNotInstalled
	case is(resultdir.ErrCannotWrite, resultdir.ErrBusy, resultdir.ErrNotOurs, archive.ErrInUse, disk.ErrCannotWrite):
		return exitCannotWrite
	case is(vision.ErrNoPerson, screening.ErrNoReps, screening.ErrCannotMeasure, screening.ErrDifferentMovement,
		screening.ErrDifferentNetworks):
		return exitUnmeasurable
	case is(media.ErrUnreadable, media.ErrNoVideo, archive.ErrDamaged, archive.ErrNewerSchema):
		return exitUnreadable
	case errors.As(err, &usage), is(models.ErrUnknown, movements.ErrBadFile, archive.ErrNotArchive, archive.ErrNotFound,
		archive.ErrInvalid):
		return exitUsage
	default:
		return exitUnexpected
	}
}

// usagef says what is wrong with the command line, in a text of the terminal with its parameters.
func usagef(key string, with ...any) error { return terminal.Usage(key, with...) }

// saidError is an error whose text is one of the terminal's.
type saidError string

func (e saidError) Error() string { return terminal.Text(string(e)) }

// shownError is an error that the user has been told of already.
type shownError struct{ error }

func (e shownError) Unwrap() error { return e.error }

func main() {
	// Clean up when what is held has grown by a quarter, not when it has doubled: what is kept of each frame is little,
	// but of ten minutes it would be fifty megabytes more while the networks take their own.
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(25)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	// A second interrupt ends the program at once, in case the first one hangs.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], newApp(os.Stdout, os.Stderr)))
}

// run is the whole program: it returns the exit code.
func run(ctx context.Context, args []string, a *app) int {
	root := newRootCommand(a)
	root.SetArgs(args)
	root.SetOut(a.stdout)
	root.SetErr(a.stderr)
	err := root.ExecuteContext(ctx)
	if err != nil && ctx.Err() != nil {
		// What fails after an interrupt fails because of it: the decoder, for
		// one, gets the terminal's signal too.
		err = fmt.Errorf("interrupted: %w", context.Canceled)
	}
	code := exitCode(err)
	var shown shownError
	if err != nil && (!errors.As(err, &shown) || code == exitInterrupted) {
		a.printError(err, code, slices.Contains(args, "--json") || slices.Contains(args, "--json=true"))
	}
	return code
}

// printError tells the user of an error in one plain line, or in one line of JSON.
func (a *app) printError(err error, code int, asJSON bool) {
	line := strings.Join(strings.Fields(err.Error()), " ")
	var clip *media.ClipError
	if errors.As(err, &clip) && clip.HintCode != "" {
		line = strings.ReplaceAll(line, clip.Hint, words.SayAt("terminal", "notice."+clip.HintCode, nil))
	}
	if errors.Is(err, screening.ErrOneTempo) {
		line += " " + words.Say("terminal.notice.saw_one_tempo", nil)
	}
	if code == exitInterrupted {
		line = terminal.Text("interrupted")
	}
	if asJSON {
		writeJSONError(a.stderr, line, code)
		return
	}
	terminal.Say(a.stderr, "holdfast: %s\n", line)
	if code == exitUnexpected {
		terminal.Tell(a.stderr, "unexpected")
	}
}

func writeJSONError(w io.Writer, text string, code int) {
	line, err := json.Marshal(struct {
		Error string `json:"error"`
		Code  int    `json:"code"`
	}{printable.Line(text), code})
	if err != nil { // a string and a number always can be encoded
		line = []byte(`{"error":"unknown","code":1}`)
	}
	_, _ = w.Write(append(line, '\n')) // who cannot be told of an error has its exit code
}
