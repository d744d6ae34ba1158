// Package place says where an archive is kept, by flags and variables of the environment that all commands share.
package place

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/pflag"

	"holdfast/archive"
	"holdfast/archive/bucket"
	"holdfast/archive/files"
	"holdfast/archive/rows"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk/work"
)

// Options say where an archive is kept.
type Options struct {
	Data     string // the data folder
	Database string // the address of the rows; empty: in the data folder
	Store    string // the address of the files; empty: in the data folder
}

// AddFlags adds the flags that say so.
func (o *Options) AddFlags(f *pflag.FlagSet) {
	f.StringVar(&o.Data, "data", "", "")
	f.StringVar(&o.Database, "database", "", "")
	f.StringVar(&o.Store, "store", "", "")
}

// The environment variables that say where rows and files are kept, and what the files' server wants to know.
const (
	databaseVariable    = work.DatabaseVariable
	storeVariable       = "HOLDFAST_STORE"
	storeKeyVariable    = "HOLDFAST_STORE_KEY"
	storeSecretVariable = work.StoreSecretVariable
)

// Shared says whether the rows are kept in a database that several computers use.
func (o *Options) Shared() bool { return o.Database != "" || os.Getenv(databaseVariable) != "" }

// Open opens the archive of a data folder, its rows and files where the options or the environment say.
func (o *Options) Open(ctx context.Context, dir string, opt archive.Options) (*archive.Archive, error) {
	given := *o
	if given.Database == "" {
		given.Database = os.Getenv(databaseVariable)
	}
	if given.Store == "" {
		given.Store = os.Getenv(storeVariable)
	}
	return given.open(ctx, dir, opt)
}

func (o *Options) open(ctx context.Context, dir string, opt archive.Options) (a *archive.Archive, err error) {
	if opt.Files, err = filesAt(o.Store); err != nil {
		return nil, err
	}
	if opt.Database = o.Database; opt.Database != "" && opt.Files == nil {
		return nil, terminal.Usage("database_store")
	}
	a, err = archive.Open(ctx, dir, opt)
	if errors.Is(err, rows.ErrAddress) {
		return nil, terminal.Usage("database") // which may hold a password
	}
	return a, err
}

// filesAt returns the files at an address, of a bucket or file:// and a folder; nil for none.
func filesAt(address string) (files.Files, error) {
	if address == "" {
		return nil, nil
	}
	if dir, ok := strings.CutPrefix(address, "file://"); ok {
		if !filepath.IsAbs(dir) {
			return nil, terminal.Usage("store_folder", "given", address)
		}
		return files.Folder{Root: dir}, nil
	}
	b, err := bucket.Open(address, bucket.Keys{ID: os.Getenv(storeKeyVariable), Secret: os.Getenv(storeSecretVariable)})
	if err != nil {
		return nil, terminal.Usage("store", "given", address)
	}
	return b, nil
}

// Folder returns where the archive lies: what was given, HOLDFAST_DATA, or the
// place the system has for a program's data.
func (o *Options) Folder() (string, error) {
	if o.Data != "" { // whole, for the processes that read clips stand in folders of their own
		return filepath.Abs(o.Data)
	}
	if dir := os.Getenv("HOLDFAST_DATA"); dir != "" {
		return filepath.Abs(dir)
	}
	if dir := os.Getenv("XDG_DATA_HOME"); dir != "" {
		return filepath.Join(dir, "holdfast"), nil
	}
	if runtime.GOOS == "linux" {
		if home, err := os.UserHomeDir(); err == nil {
			return filepath.Join(home, ".local", "share", "holdfast"), nil
		}
	} else if dir, err := os.UserConfigDir(); err == nil {
		return filepath.Join(dir, "holdfast"), nil
	}
	return "", terminal.Usage("no_home")
}
