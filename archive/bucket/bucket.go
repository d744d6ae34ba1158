// Package bucket keeps files in a bucket of a server that speaks S3.
//
// A server answers a write when it has the object whole, so a bucket keeps what package files asks for: an object is
// there as it was put or not at all. A call that fails for a moment is made again, up to seven times with a growing
// pause; what is tried again does no harm, for an object's key says its content.
package bucket

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"strings"
	"time"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"holdfast/archive/files"
	"holdfast/words"
)

// The schemes of an address: over TLS, and without it for a server on this computer or in a closed network.
const (
	Scheme      = "s3"
	PlainScheme = "s3+http"
)

const (
	// tries is how often a call is made before it counts as failed: with one call in ten failing, one in ten million.
	tries = 7
	// answerTime is how long the server may take to begin its answer.
	answerTime = time.Minute
	// region is what a server is told that was given none; those that have regions want the right one.
	region = "us-east-1"
)

var (
	// ErrAddress: the address of a bucket cannot be read.
	ErrAddress error = words.Error("bucket_address")
	// ErrNoBucket: the server has no such bucket.
	ErrNoBucket error = words.Error("no_bucket")
)

// Bucket keeps files in a bucket, below a prefix.
type Bucket struct {
	client *minio.Client
	name   string
	prefix string // empty, or with its slash
}

var _ files.Files = (*Bucket)(nil)

// Keys are how a server knows who asks.
type Keys struct{ ID, Secret string }

// Open returns the files in the bucket at an address, s3://HOST[:PORT]/BUCKET[/PREFIX][?region=REGION]. It asks the
// server nothing. The error is of the kind ErrAddress.
func Open(address string, keys Keys) (*Bucket, error) {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != Scheme && u.Scheme != PlainScheme || u.Host == "" || u.User != nil {
		return nil, ErrAddress
	}
	name, prefix, _ := strings.Cut(strings.Trim(u.Path, "/"), "/")
	if name == "" {
		return nil, ErrAddress
	}
	if prefix != "" {
		prefix += "/"
	}
	// The client's own transport, with an end to the waiting.
	transport, err := minio.DefaultTransport(u.Scheme == Scheme)
	if err != nil {
		return nil, ErrAddress
	}
	transport.ResponseHeaderTimeout = answerTime
	opt := minio.Options{
		Creds: credentials.NewStaticV4(keys.ID, keys.Secret, ""), Secure: u.Scheme == Scheme,
		Transport: uploads{transport},
		Region:    region, BucketLookup: minio.BucketLookupPath, MaxRetries: tries,
	}
	if r := u.Query().Get("region"); r != "" {
		opt.Region = r
	}
	client, err := minio.New(u.Host, &opt)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrAddress, err)
	}
	return &Bucket{client: client, name: name, prefix: prefix}, nil
}

// key returns the name of a file's object: that of its path in a data folder.
func (b *Bucket) key(sum string) string { return b.prefix + files.Key(sum) }

// Put sends the file.
func (b *Bucket) Put(ctx context.Context, sum, from string) error {
	f, err := os.Open(from)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	// The sum of each part goes along, so that the server refuses what was changed on the way.
	_, err = b.client.PutObject(ctx, b.name, b.key(sum), f, info.Size(), minio.PutObjectOptions{
		ContentType: "application/octet-stream", SendContentMd5: true, DisableContentSha256: true,
	})
	return b.because(ctx, err)
}

// Get asks for the file's content.
func (b *Bucket) Get(ctx context.Context, sum string) (io.ReadCloser, error) {
	object, err := b.client.GetObject(ctx, b.name, b.key(sum), minio.GetObjectOptions{})
	if err != nil {
		return nil, b.because(ctx, err)
	}
	if _, err := object.Stat(); err != nil { // asks the server, which GetObject does not
		_ = object.Close() // nothing was read
		return nil, b.because(ctx, err)
	}
	return object, nil
}

// Size asks for the file's size.
func (b *Bucket) Size(ctx context.Context, sum string) (int64, error) {
	info, err := b.client.StatObject(ctx, b.name, b.key(sum), minio.StatObjectOptions{})
	return info.Size, b.because(ctx, err)
}

// Delete removes the file's object.
func (b *Bucket) Delete(ctx context.Context, sum string) error {
	return b.because(ctx, b.client.RemoveObject(ctx, b.name, b.key(sum), minio.RemoveObjectOptions{}))
}

// List asks for all keys below the prefix, a thousand at a time.
func (b *Bucket) List(ctx context.Context, do func(key string) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	for o := range b.client.ListObjects(ctx, b.name, minio.ListObjectsOptions{Prefix: b.prefix, Recursive: true}) {
		if o.Err != nil {
			return b.because(ctx, o.Err)
		}
		if err := do(strings.TrimPrefix(o.Key, b.prefix)); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// because gives an answer that there is no such object the kind fs.ErrNotExist. Servers answer the same of a bucket
// that is not there, so they are asked for it: nothing may be taken for missing because of a wrong address.
func (b *Bucket) because(ctx context.Context, err error) error {
	if err == nil {
		return nil
	}
	if answer := minio.ToErrorResponse(err); answer.Code == minio.NoSuchKey || answer.StatusCode == http.StatusNotFound {
		there, also := b.client.BucketExists(ctx, b.name)
		switch {
		case also != nil:
			err = also
		case there:
			return fmt.Errorf("%w: %w", fs.ErrNotExist, err)
		default:
			return words.Because(ErrNoBucket, "bucket_missing", words.Params{"bucket": b.name})
		}
	}
	return words.Instead(err, "bucket_fails", words.Params{"error": err.Error()})
}
