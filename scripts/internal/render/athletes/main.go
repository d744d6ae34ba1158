// The program athletes renders clips of invented athletes whose joint angles are known, with their truth beside them.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"runtime/pprof"
	"strconv"
	"strings"
	"sync"

	"holdfast/scripts/internal/render"
	"holdfast/scripts/internal/render/motion"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		if !errors.Is(err, flag.ErrHelp) {
			fmt.Fprintln(os.Stderr, "render-athletes:", err)
		}
		stop()
		os.Exit(1)
	}
}

type order struct {
	seed uint64
	kind motion.Kind
}

func (o order) name() string { return fmt.Sprintf("athlete_%04d_%s", o.seed, o.kind) }

func run(ctx context.Context, args []string) (err error) {
	flags := flag.NewFlagSet("render-athletes", flag.ContinueOnError)
	set := flags.String("set", "calibrate", "which athletes: calibrate or check")
	from := flags.Int("from", 1, "the first athlete of the set, from 1")
	to := flags.Int("to", 30, "the last athlete of the set")
	out := flags.String("out", "", "folder for the clips and their truth (required)")
	motions := flags.String("motion", "slow,fast", fmt.Sprintf("movements, of %s", motion.Kinds))
	still := flags.String("still", "", "instead of clips, PNG stills at these seconds, the truth's points drawn")
	plain := flags.Bool("plain", false, "stills without points")
	truth := flags.Bool("truth", false, "write the truth alone, without pictures")
	again := flags.Bool("again", false, "render clips anew that are there already")
	jobs := flags.Int("jobs", runtime.NumCPU(), "clips at a time")
	profile := flags.String("profile", "", "write a CPU profile to this file")
	if err := flags.Parse(args); err != nil {
		return err
	}
	seeds, err := render.Seeds(*set)
	if err != nil {
		return err
	}
	if *out == "" || *from < 1 || *to > len(seeds) || *from > *to || *jobs < 1 || flags.NArg() > 0 {
		return fmt.Errorf("-out names a folder, -from and -to athletes from 1 to %d, -jobs 1 or more", len(seeds))
	}
	times, err := seconds(*still)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(*out, 0o755); err != nil {
		return fmt.Errorf("making the folder for the clips: %w", err)
	}
	if *profile != "" {
		f, err := os.Create(*profile)
		if err != nil {
			return fmt.Errorf("writing the profile: %w", err)
		}
		defer f.Close()
		if err := pprof.StartCPUProfile(f); err != nil {
			return fmt.Errorf("writing the profile: %w", err)
		}
		defer pprof.StopCPUProfile()
	}
	var orders []order
	for _, seed := range seeds[*from-1 : *to] {
		for _, kind := range strings.Split(*motions, ",") {
			orders = append(orders, order{seed, motion.Kind(kind)})
		}
	}
	return each(ctx, orders, *jobs, func(ctx context.Context, o order) error {
		if len(times) == 0 && !*again && !*truth && exists(filepath.Join(*out, o.name()+".mp4")) {
			return nil
		}
		scene, err := render.NewScene(o.seed, o.kind)
		if err != nil {
			return err
		}
		for _, t := range times {
			path := filepath.Join(*out, fmt.Sprintf("%s_%.2f.png", o.name(), t))
			if err := scene.WriteStill(path, t, !*plain); err != nil {
				return err
			}
		}
		if len(times) > 0 {
			return nil
		}
		if *truth {
			return scene.WriteTruth(*out, o.name())
		}
		if err := scene.WriteClip(ctx, *out, o.name()); err != nil {
			return err
		}
		c := &scene.Camera
		fmt.Printf("%s: %d x %d, %d frames at %d a second\n", o.name(), c.Width, c.Height, scene.Frames(), scene.RateHz)
		return nil
	})
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

func seconds(list string) ([]float64, error) {
	var out []float64
	for s := range strings.SplitSeq(list, ",") {
		if s == "" {
			continue
		}
		t, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return nil, fmt.Errorf("-still takes seconds such as 0.5,2.1, not %q", s)
		}
		out = append(out, t)
	}
	return out, nil
}

// each carries out orders, jobs at a time, and returns the first error in their order; after one, no new ones begin.
func each(ctx context.Context, orders []order, jobs int, do func(context.Context, order) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	next := make(chan int)
	errs := make([]error, len(orders))
	var workers sync.WaitGroup
	for range min(jobs, len(orders)) {
		workers.Go(func() {
			for i := range next {
				if errs[i] = do(ctx, orders[i]); errs[i] != nil {
					stop()
				}
			}
		})
	}
	for i := range orders {
		select {
		case next <- i:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	workers.Wait()
	for _, err := range errs {
		if err != nil && !errors.Is(err, context.Canceled) {
			return err
		}
	}
	return ctx.Err()
}
