package folder

import (
	"context"
	"database/sql"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"strings"

	"holdfast/archive/disk"
	"holdfast/archive/files"
	"holdfast/archive/rows"
	"holdfast/words"
)

// deletingMark begins the name of a file in tmp while an athlete is being deleted.
const deletingMark = "deleting-"

// BeginDeletion marks that what is removed must not stay in the file of the database: should this be killed before the
// database was packed, the next server packs it. The mark is removed by its name.
func (d *Folder) BeginDeletion() (mark *os.File, err error) {
	return disk.LockedFile(d.Store.Tmp(), deletingMark+"*")
}

// clean removes what was being written or removed when an earlier server was killed:
// rows of files that nothing uses, with the files, and what is in tmp. A file that no
// row knows, and that this program was not putting or removing, may be one that the
// database has lost: it goes to lost.
func (d *Folder) clean(ctx context.Context) error {
	if d.Shared() {
		return errors.Join(d.cleanShared(ctx), d.cleanTmp(ctx))
	}
	unlock, err := d.Store.Lock(ctx)
	if err != nil {
		return err
	}
	defer unlock()
	if err := d.sound(ctx); err != nil {
		return err
	}
	underway, err := d.Store.Underway()
	if err != nil {
		return err
	}
	_, _, err = d.discardLocked(ctx, func() error { return nil }, func(tx *sql.Tx) ([]string, error) {
		return Unused(ctx, tx)
	})
	if err != nil {
		return err
	}
	stored, err := Files(ctx, d.Write)
	if err != nil {
		return err
	}
	missing := map[string]bool{}
	for _, f := range stored {
		missing[f.SHA256] = true
	}
	known := maps.Clone(missing)
	err = d.Store.Walk(ctx, func(key, sum string) error {
		switch {
		case known[sum] && key == files.Key(sum):
			delete(missing, sum)
			return nil
		case !known[sum] && underway[sum]:
			return d.Store.Drop(ctx, key)
		}
		return d.Store.Lose(key)
	})
	if err == nil {
		err = d.Store.SortLost(ctx, missing)
	}
	if err != nil {
		return err
	}
	return d.cleanTmp(ctx)
}

// sound checks the database before anything is removed on its word: a damaged index
// hides rows.
func (d *Folder) sound(ctx context.Context) error {
	bad := func(what string) error {
		return words.Because(rows.ErrDamaged, "database_unsound", words.Params{"database": Database, "wrong": what})
	}
	wrong, err := rows.Unsound(ctx, d.Write, 1)
	if errors.Is(err, rows.ErrDamaged) {
		return bad(err.Error())
	}
	if err != nil {
		return err
	}
	if len(wrong) > 0 {
		return bad(wrong[0])
	}
	astray, err := rows.BrokenReferences(ctx, d.Write)
	if err == nil && len(astray) > 0 {
		return bad(astray[0])
	}
	return err
}

// cleanTmp empties tmp, but for what another program holds locked because it writes
// there now. It ends a deletion that was killed before the database was packed.
func (d *Folder) cleanTmp(ctx context.Context) error {
	dir := d.Store.Tmp()
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		err := disk.WhenFree(path, e, func() error {
			if strings.HasPrefix(e.Name(), deletingMark) {
				switch err := rows.Pack(ctx, d.Write); {
				case errors.Is(err, rows.ErrStillRead):
					return nil // the mark stays for the next start
				case err != nil:
					return err
				}
			}
			return os.RemoveAll(path)
		})
		if err != nil {
			return err
		}
	}
	return nil
}
