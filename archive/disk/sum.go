package disk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
)

// IsSum says whether a text is a SHA-256 as files are named by: 64 small hexadecimal
// digits.
func IsSum(s string) bool {
	if len(s) != 2*sha256.Size {
		return false
	}
	for _, c := range s {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

// Sum returns the SHA-256 of a file's content, as IsSum wants it, and its size in bytes.
func Sum(ctx context.Context, path string) (sum string, bytes int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	if bytes, err = io.Copy(h, NewInput(ctx, f)); err != nil {
		return "", 0, err
	}
	return hex.EncodeToString(h.Sum(nil)), bytes, nil
}
