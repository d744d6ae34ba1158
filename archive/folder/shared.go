package folder

import (
	"context"
	"database/sql"
	_ "embed"
	"errors"
	"io"
	"path/filepath"
	"strings"
	"time"

	"holdfast/archive/disk"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/words"
)

//go:embed queries_postgres.sql
var sharedText string

// qShared holds the statements of queries_postgres.sql by their names.
var qShared = func() (all sharedQueries) {
	rows.MustFill(&all, sharedText)
	return all
}()

type sharedQueries struct {
	Underway, UnderwayOf, UnderwayInsert, UnderwayEnd, UnderwayDrop string
}

// Shared says that the rows are in a database that several computers use. The data folder is then one computer's own:
// what is being written, copies of files, clips that have not come whole.
func (d *Folder) Shared() bool { return d.locks != nil }

// LockFiles waits for the turn to remove files, which nobody else has meanwhile, and nobody to put any: between the
// moment a file gets its name and the commit of its row, nobody may clean up.
func (d *Folder) LockFiles(ctx context.Context) (unlock func(), err error) {
	unlock, _, err = d.lockFiles(ctx, true)
	return unlock, err
}

// KeepFiles waits until nobody removes files, and lets nobody do so. Of a shared database others may put some.
func (d *Folder) KeepFiles(ctx context.Context) (unlock func(), err error) {
	unlock, _, err = d.lockFiles(ctx, false)
	return unlock, err
}

// lockFiles takes the lock of the files. alive says whether it still has it: a lock of a database goes with the
// connection.
func (d *Folder) lockFiles(ctx context.Context, removing bool) (unlock func(), alive func() error, err error) {
	if d.Shared() {
		return rows.LockFiles(ctx, d.locks, removing)
	}
	unlock, err = d.Store.Lock(ctx)
	return unlock, func() error { return nil }, err
}

// Turns waits for the turns of what has these ids, sorted, which no other computer has meanwhile.
func (d *Folder) Turns(ctx context.Context, ids []string) (back func(), err error) {
	return rows.LockTurns(ctx, d.locks, ids)
}

// Soon returns the connections for what may be lost if the database server crashes at once, as long as nothing that was
// promised rests on it: a commit that others wait for takes along all that came before it.
func (d *Folder) Soon() *sql.DB {
	if d.Shared() {
		return d.locks
	}
	return d.Write
}

// begin writes down that files are about to get or lose their row: for a shared database in a table of it, in the
// transaction db that removes rows or by itself, else in tmp. See store.Begin.
func (d *Folder) begin(ctx context.Context, db rows.Querier, sums []string, durable bool) (end func(), err error) {
	if !d.Shared() {
		return d.Store.Begin(sums, durable)
	}
	list, err := rows.NewID()
	if err != nil {
		return nil, err
	}
	_, now := d.Stamp()
	if err := rows.Do(ctx, db, qShared.UnderwayInsert, list, strings.Join(sums, ","), now); err != nil {
		return nil, err
	}
	return func() {
		end, done := context.WithTimeout(context.WithoutCancel(ctx), endTime)
		defer done()
		_ = rows.Do(end, d.Soon(), qShared.UnderwayEnd, list) // what stays is looked at by the next server
	}, nil
}

// endTime bounds saying that files are on their way no more.
const endTime = 5 * time.Second

// Underway returns the files that were getting or losing their row when a program was killed, or are so now where
// several computers use the database. The lock must be held.
func (d *Folder) Underway(ctx context.Context) (map[string]bool, error) {
	if !d.Shared() {
		return d.Store.Underway()
	}
	sums, err := rows.Texts(ctx, d.Read, qShared.Underway, "~") // later than every time
	out := map[string]bool{}
	for _, sum := range sums {
		out[sum] = true
	}
	return out, err
}

// OnItsWay says whether a file of a shared database has a row or is about to get or lose it, as of now.
func (d *Folder) OnItsWay(ctx context.Context, sum string) (bool, error) {
	if !d.Shared() || !disk.IsSum(sum) {
		return false, nil
	}
	// In this order: who puts a file ends what is under way when the row is there.
	if all, err := rows.Texts(ctx, d.Read, qShared.UnderwayOf, sum); err != nil || len(all) > 0 {
		return err == nil, err
	}
	_, err := FileSize(ctx, d.Read, sum)
	if errors.Is(err, rows.ErrNotFound) {
		return false, nil
	}
	return err == nil, err
}

// cleanShared ends what a program was putting or removing a quarter of an hour ago and never ended, on whatever
// computer: a file without a row goes, and one whose row nothing has come to refer to. Files that no list and no row
// knows are left: archive check names them.
func (d *Folder) cleanShared(ctx context.Context) error {
	now, _ := d.Stamp()
	old := now.Add(-store.NameWithin).Format(rows.TimeText)
	sums, err := rows.Texts(ctx, d.Read, qShared.Underway, old)
	if err != nil {
		return err
	}
	unlock, alive, err := d.lockFiles(ctx, true)
	if err != nil {
		return err
	}
	defer unlock()
	for _, sum := range sums {
		_, err := FileSize(ctx, d.Write, sum)
		if errors.Is(err, rows.ErrNotFound) {
			if err = alive(); err == nil {
				_, _, err = d.Store.Remove(ctx, []string{sum})
			}
		}
		if err == nil {
			err = rows.Do(ctx, d.Write, qShared.UnderwayDrop, sum, old)
		}
		if err != nil {
			return err
		}
	}
	_, _, err = d.discardLocked(ctx, alive, func(tx *sql.Tx) ([]string, error) { return d.Abandoned(ctx, tx) })
	return err
}

// openShared opens the rows in a database server.
func (d *Folder) openShared(ctx context.Context, opt Options) (err error) {
	if note := filepath.Join(d.Dir, elsewhere); !isFile(note) {
		_, err := disk.WriteFile(note, func(w io.Writer) (whole bool, err error) {
			_, err = io.WriteString(w, words.Say("error.elsewhere_note", nil)+"\n")
			return true, err
		})
		if err != nil {
			return disk.CannotWrite(err)
		}
	}
	for _, pool := range []**sql.DB{&d.Write, &d.Read} {
		if *pool, err = rows.OpenPostgres(opt.Database); err != nil {
			return err
		}
	}
	if d.locks, err = rows.OpenPostgresSoon(opt.Database); err != nil {
		return err
	}
	if opt.Serving {
		if d.unserve, err = rows.LockServing(ctx, d.locks); err != nil {
			return err
		}
		if d.unserve == nil {
			return words.Instead(ErrInUse, "in_use_database", nil)
		}
	}
	d.locks.SetMaxOpenConns(0) // who holds one lock may want another
	return d.migrate(ctx, opt.MustExist)
}

// ErrShared: what was asked for is not done with a database that several computers use.
var ErrShared = words.Instead(rows.ErrInvalid, "shared", nil)
