// Package place says where an archive is kept, by flags and variables of the environment that all commands share.
package place

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/pflag"

	"holdfast/archive"
	"holdfast/archive/bucket"
	"holdfast/archive/files"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk/work"
)

// Options say where an archive is kept.
type Options struct {
	Data  string // the data folder
	Store string // the address of the files; empty: in the data folder
}

// AddFlags adds the flags that say so.
func (o *Options) AddFlags(f *pflag.FlagSet) {
	f.StringVar(&o.Data, "data", "", "")
	f.StringVar(&o.Store, "store", "", "")
}

// The environment variables that say where the files are kept, and what their server wants to know.
const (
	storeVariable       = "HOLDFAST_STORE"
	storeKeyVariable    = "HOLDFAST_STORE_KEY"
	storeSecretVariable = work.StoreSecretVariable
)

// Open opens the archive in a data folder, its files where the options say.
func (o *Options) Open(ctx context.Context, dir string, opt archive.Options) (*archive.Archive, error) {
	address := o.Store
	if address == "" {
		address = os.Getenv(storeVariable)
	}
	var err error
	if opt.Files, err = filesAt(address); err != nil {
		return nil, err
	}
	return archive.Open(ctx, dir, opt)
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
	if o.Data != "" {
		return o.Data, nil
	}
	if dir := os.Getenv("HOLDFAST_DATA"); dir != "" {
		return dir, nil
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
