package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"holdfast/scripts/internal/render/motion"
)

func TestRefusals(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		args string
		want string
	}{
		{"", "-out"},
		{"-out " + dir + " -set train", "train"},
		{"-out " + dir + " -from 0", "-from"},
		{"-out " + dir + " -from 7 -to 3", "-from"},
		{"-out " + dir + " -to 31", "30"},
		{"-out " + dir + " -still x", "-still"},
		{"-out " + dir + " -to 1 -motion fly", "fly"},
	} {
		if err := run(context.Background(), strings.Fields(c.args)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v, want a word of %s", c.args, err, c.want)
		}
	}
}

func TestStills(t *testing.T) {
	dir := t.TempDir()
	args := "-out " + dir + " -set check -from 2 -to 2 -motion fast -still 1.5"
	if err := run(context.Background(), strings.Fields(args)); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "athlete_1002_fast_1.50.png")); err != nil {
		t.Error(err)
	}
}

func TestEachStopsAtAnError(t *testing.T) {
	orders := make([]order, 40)
	for i := range orders {
		orders[i] = order{uint64(i), motion.Slow}
	}
	failed := errors.New("no more")
	var done atomic.Int32
	err := each(context.Background(), orders, 2, func(ctx context.Context, o order) error {
		if o.seed == 3 {
			return failed
		}
		if o.seed > 3 {
			<-ctx.Done()
		}
		done.Add(1)
		return ctx.Err()
	})
	if !errors.Is(err, failed) || done.Load() > 6 {
		t.Errorf("%v after %d orders", err, done.Load())
	}
	if err := each(context.Background(), orders, 3, func(context.Context, order) error { return nil }); err != nil {
		t.Error(err)
	}
}
