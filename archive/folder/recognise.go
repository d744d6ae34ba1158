package folder

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"holdfast/archive/disk"
	"holdfast/archive/rows"
	"holdfast/archive/store"
	"holdfast/words"
)

// Movements is the folder in a data folder in which a coach puts movements; the archive leaves it alone.
const Movements = "movements"

// elsewhere is a note in a data folder that the rows are in a database which several computers use.
const elsewhere = "holdfast.elsewhere"

// Certificate is the file in a data folder with the page's certificate and its key; the archive leaves it alone too.
const Certificate = "page.pem"

// inspect says whether a folder holds an archive. Where none is, the folder must be
// empty, or as a first start leaves it that was killed: a server empties tmp and sorts
// files, which must not be somebody else's.
//
// The folder of a computer that shares its rows holds none, and is known by a note in it.
func inspect(dir string, shared bool) (there bool, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		if info, statErr := os.Stat(dir); statErr == nil && !info.IsDir() {
			return false, words.Instead(ErrNotArchive, "archive_is_file", words.Params{"path": dir})
		}
		return false, disk.IgnoreMissing(err)
	}
	rowsHere := isFile(filepath.Join(dir, Database))
	switch {
	case rowsHere && shared:
		return true, words.Instead(ErrNotArchive, "archive_own_rows", words.Params{"folder": dir})
	case rowsHere, shared && isFile(filepath.Join(dir, elsewhere)):
		return rowsHere, nil
	}
	return false, onlyOurs(dir, entries)
}

// isFile says whether a file with something in it lies at a path.
func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular() && info.Size() > 0
}

// onlyOurs returns an error when something else than an archive without rows lies in a folder.
func onlyOurs(dir string, entries []os.DirEntry) error {
	other, lost := "", false
	for _, e := range entries {
		name := e.Name()
		info, err := os.Stat(filepath.Join(dir, name))
		switch {
		case errors.Is(err, fs.ErrNotExist): // a link to nowhere, or gone since
		case err != nil:
			return err
		case strings.HasPrefix(name, "."), slices.Contains([]string{"lost+found", "desktop.ini", "Thumbs.db", "$RECYCLE.BIN",
			"System Volume Information"}, name):
			// Systems put these into folders by themselves.
		case name == Movements && info.IsDir():
		case slices.Contains([]string{Database, Database + "-wal", Database + "-shm", Database + "-journal",
			servingLock, store.LockFile, Certificate}, name) && info.Mode().IsRegular():
		case info.IsDir() && slices.Contains([]string{store.FilesFolder, store.CopiesFolder, store.TmpFolder,
			store.LostFolder}, name):
			err := filepath.WalkDir(filepath.Join(dir, name), func(_ string, d fs.DirEntry, err error) error {
				switch {
				case err != nil || d.IsDir():
					return err
				case name == store.FilesFolder && disk.IsSum(d.Name()):
					lost = true
				default:
					other = name
				}
				return fs.SkipAll
			})
			if err != nil {
				return err
			}
		default:
			other = name
		}
	}
	switch {
	case lost:
		return lostDatabase(dir)
	case other != "":
		return words.Instead(ErrNotArchive, "archive_other", words.Params{"folder": dir, "found": other})
	}
	return nil
}

func noArchive(dir string) error {
	return words.Instead(ErrNotArchive, "archive_missing", words.Params{"folder": dir})
}

// lostDatabase says that an empty database beside files is a lost one. Going on would
// sort out the files, which then no row knows.
func lostDatabase(dir string) error {
	return words.Because(rows.ErrDamaged, "database_lost", words.Params{"database": filepath.Join(dir, Database)})
}
