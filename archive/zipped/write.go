// Package zipped puts the files of an archive into one zip and takes them out again.
//
// Files go in as they are: videos and pictures are packed already, and a zip that is not
// packed can be read back with bounded memory and disk. What comes back may come from
// anywhere: Unpack takes the names alone that a backup has, writes no more than the file
// holds, and compares every file with the SHA-256 in its name.
package zipped

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"io/fs"
	"os"
	"path"
	"strings"
	"unicode"

	"holdfast/archive/disk"
	"holdfast/printable"
)

// Writer writes a zip.
type Writer struct {
	ctx context.Context
	z   *zip.Writer
}

// NewWriter returns a Writer of a zip into w, which ends with Close and stops when ctx ends.
func NewWriter(ctx context.Context, w io.Writer) *Writer {
	return &Writer{ctx: ctx, z: zip.NewWriter(w)}
}

// Close writes the list of what is in the zip.
func (w *Writer) Close() error { return w.z.Close() }

// Text writes an entry of this content.
func (w *Writer) Text(name string, content []byte) error {
	f, err := w.z.Create(name)
	if err == nil {
		_, err = f.Write(content)
	}
	return err
}

// JSON writes v as an entry that people can read too.
func (w *Writer) JSON(name string, v any) error {
	b, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return err
	}
	return w.Text(name, append(printable.JSON(b), '\n'))
}

// File writes an entry with the content of a file as it is. It returns the SHA-256 of what
// went in, and tells errors of reading, unread, from all others.
func (w *Writer) File(name, from string) (sum string, unread, err error) {
	entry, err := w.z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
	if err != nil {
		return "", nil, err
	}
	f, err := os.Open(from)
	if err != nil {
		return "", err, nil
	}
	defer f.Close()
	in, h := disk.NewInput(w.ctx, f), sha256.New()
	if _, err := io.Copy(io.MultiWriter(entry, h), in); in.Err() != nil {
		return "", in.Err(), nil
	} else if err != nil {
		return "", nil, err
	}
	return hex.EncodeToString(h.Sum(nil)), nil, nil
}

// SplitName makes of a clip's name one that every system can write, without its
// ending, and the ending.
func SplitName(name string) (base, ext string) {
	clean := func(s string, most int) string {
		s = strings.Map(func(r rune) rune {
			switch {
			case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
				return r
			}
			return '_'
		}, s)
		return s[:min(len(s), most)]
	}
	if e := path.Ext(name); len(e) > 1 && len(e) <= 6 {
		name, ext = strings.TrimSuffix(name, e), "."+clean(e[1:], 5)
	}
	if base = clean(name, 40); base == "" {
		base = "clip"
	}
	return base, ext
}

// maxName is the longest name of a file, in bytes.
const maxName = 400

// GoodName says whether a name stays in its folder when it is taken out of a zip, on every system.
func GoodName(name string) bool {
	return len(name) <= maxName && fs.ValidPath(name) && name != "." && !strings.ContainsAny(name, `\:`) &&
		!strings.ContainsFunc(name, unicode.IsControl)
}
