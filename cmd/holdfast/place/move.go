package place

import (
	"context"
	"errors"
	"os"
	"time"

	"holdfast/archive"
	"holdfast/cmd/holdfast/terminal"
)

// Move copies the archive that from says to where to says, which the environment does not fill in. No server may have
// it meanwhile. It returns how many files and rows there are.
func Move(ctx context.Context, from, to Options, now func() time.Time, progress func(done, total int)) (
	files, rows int, err error) {
	if to.Data == "" && to.Database == "" {
		return 0, 0, terminal.Usage("move_where")
	}
	dir, err := from.Folder()
	if err != nil {
		return 0, 0, err
	}
	here, err := from.Open(ctx, dir, archive.Options{Now: now, MustExist: true, Serving: true})
	if err != nil {
		return 0, 0, err
	}
	defer func() { err = errors.Join(err, here.Close()) }()
	if to.Data == "" { // what is written on the way
		if to.Data, err = os.MkdirTemp("", "holdfast-move-"); err != nil {
			return 0, 0, err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(to.Data)) }()
	}
	there, err := to.open(ctx, to.Data, archive.Options{Now: now})
	if err != nil {
		return 0, 0, err
	}
	defer func() { err = errors.Join(err, there.Close()) }()
	return here.CopyTo(ctx, there, progress)
}
