package archive

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// tryLock takes a lock file for this process; ok is false when another has it. The
// lock ends with the file, also when the process is killed.
func tryLock(path string) (f *os.File, ok bool, err error) {
	if f, err = os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600); err != nil {
		return nil, false, err
	}
	if ok, err = lockOpen(f); !ok {
		return nil, false, errors.Join(err, f.Close())
	}
	return f, true, nil
}

// release gives a lock up and closes its file. Closing alone would leave the lock to a
// child that was just being started and still shares the file.
func release(f *os.File) error {
	return errors.Join(unlockOpen(f), f.Close())
}

// lockFiles waits for the turn to put files in place or remove them: between the
// moment a file gets its name and the commit of its row, nobody may clean up.
func (a *Archive) lockFiles(ctx context.Context) (unlock func(), err error) {
	const wait = 5 * time.Millisecond
	for {
		f, ok, err := tryLock(filepath.Join(a.dir, filesLock))
		if err != nil {
			return nil, fmt.Errorf("locking the files: %w", err)
		}
		if ok {
			return func() { _ = release(f) }, nil
		}
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(wait):
		}
	}
}
