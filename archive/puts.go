package archive

import (
	"context"
	"database/sql"
	"fmt"
	"sync"
	"time"
)

// nameWithin is how long a file that was put may wait for its name before a deletion
// takes it along: the files of a long clip's result are put one after another.
const nameWithin = 15 * time.Minute

// puts counts the files that were put by this process and wait for their name, and
// those whose naming failed.
type puts struct {
	mu    sync.Mutex
	files map[string]puttings
}

// puttings are how often one content was put, and when last.
type puttings struct {
	waiting, failed int
	last            time.Time
}

func (p *puts) add(sum string, now time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.files == nil {
		p.files = map[string]puttings{}
	}
	n := p.files[sum]
	n.waiting++
	n.last = now
	p.files[sum] = n
}

// set keeps what is known of a file; nothing is not kept.
func (p *puts) set(sum string, n puttings) {
	if n.waiting == 0 && n.failed == 0 {
		delete(p.files, sum)
	} else {
		p.files[sum] = n
	}
}

// named ends the wait of files that got their name, or did not because of an error.
func (p *puts) named(err error, files ...File) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, f := range files {
		n := p.files[f.SHA256]
		switch {
		case n.waiting == 0:
			continue
		case err != nil:
			n.failed++
		default:
			n.failed = 0 // the file has a name, whoever gave it
		}
		n.waiting--
		p.set(f.SHA256, n)
	}
}

// given ends one put of a file whose naming failed or was given up, and says whether
// another waits for the same file.
func (p *puts) given(sum string) (others bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	n := p.files[sum]
	switch {
	case n.failed > 0:
		n.failed--
	case n.waiting > 0:
		n.waiting--
	}
	p.set(sum, n)
	return n.waiting > 0
}

// gone forgets the failed namings of files that are no longer there.
func (p *puts) gone(sums []string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range sums {
		n := p.files[s]
		n.failed = 0
		p.set(s, n)
	}
}

// failed says that nobody will name a file, as far as this process knows.
func (p *puts) failed(sum string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	n := p.files[sum]
	return n.failed > 0 && n.waiting == 0
}

// awaited says that somebody has put a file and is about to name it.
func (p *puts) awaited(sum string, now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	n := p.files[sum]
	return n.waiting > 0 && now.Sub(n.last) <= nameWithin
}

// unused is a file that no row refers to.
type unused struct {
	sum string
	put time.Time
}

// scanUnused reads such a file; a time that is none counts as long ago.
func scanUnused(s scanner) (u unused, err error) {
	var put string
	err = s.Scan(&u.sum, &put)
	if t, timeErr := time.Parse(time.RFC3339Nano, put); timeErr == nil {
		u.put = t
	}
	return u, err
}

func sumsOf(all []unused) []string {
	out := make([]string, 0, len(all))
	for _, u := range all {
		out = append(out, u.sum)
	}
	return out
}

// abandoned returns the files that no row refers to and that nobody is about to name.
// They may be of anyone, also of an athlete who is being deleted.
func (a *Archive) abandoned(ctx context.Context, tx *sql.Tx) ([]string, error) {
	all, err := list(ctx, tx, scanUnused, q.FilesUnused)
	if err != nil {
		return nil, err
	}
	now, _ := a.stamp()
	var out []string
	for _, u := range all {
		if a.puts.failed(u.sum) || now.Sub(u.put) > nameWithin {
			out = append(out, u.sum)
		}
	}
	return out, nil
}

// Forget removes a file that was just put and will not be named after all. It leaves
// the file when something refers to it, or when another has put the same and may name
// it.
func (a *Archive) Forget(ctx context.Context, f File) error {
	if a.puts.given(f.SHA256) {
		return nil
	}
	_, _, err := a.discard(ctx, func(*sql.Tx) ([]string, error) { return []string{f.SHA256}, nil })
	if err != nil {
		return fmt.Errorf("removing a file: %w", err)
	}
	return nil
}
