package bucket_test

import (
	"errors"
	"io/fs"
	"net/http"
	"strings"
	"testing"

	"holdfast/archive/bucket"
	"holdfast/internal/filestest"
)

// A bucket keeps what an archive relies on, and a server that is too busy for one call in ten is asked again.
func TestBucket(t *testing.T) {
	t.Parallel()
	for name, front := range map[string]func(http.Handler) http.Handler{"whole": nil, "busy": filestest.Refusing(10)} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b, err := bucket.Open(filestest.Server(t, front), filestest.Keys)
			if err != nil {
				t.Fatal(err)
			}
			filestest.Suite(t, b, filestest.Once)
		})
	}
}

// A bucket that is not there is no missing file: what is missing may be taken for lost.
func TestNoBucket(t *testing.T) {
	t.Parallel()
	address := strings.Replace(filestest.Server(t, nil), "/clips/", "/other/", 1)
	b, err := bucket.Open(address, filestest.Keys)
	if err != nil {
		t.Fatal(err)
	}
	_, err = b.Get(t.Context(), strings.Repeat("a", 64))
	if err == nil || errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file in no bucket: %v", err)
	}
	if err := b.List(t.Context(), func(string) error { return nil }); err == nil {
		t.Error("no bucket was listed")
	}
}

// An address says server and bucket, and no password.
func TestOpen(t *testing.T) {
	t.Parallel()
	for address, ok := range map[string]bool{
		"s3://store.example/clips":                         true,
		"s3://store.example:9000/clips/a/b?region=eu-west": true,
		"s3+http://127.0.0.1:9000/clips/":                  true,
		"s3://store.example":                               false,
		"s3:///clips":                                      false,
		"s3://me:secret@store.example/clips":               false,
		"http://store.example/clips":                       false,
		"s3://store example/clips":                         false,
		"":                                                 false,
	} {
		if _, err := bucket.Open(address, filestest.Keys); (err == nil) != ok || err != nil &&
			!errors.Is(err, bucket.ErrAddress) {
			t.Errorf("%q: %v", address, err)
		}
	}
}
