package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"

	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/plane"
)

// measureShoes prints what the network that finds shoes says of the near foot's pitch:
// its error, and that of its change against standing, mean and 95th percentile of the
// absolute values, in degrees. The ankle is that of the truth, so that no other network's
// error is in the figures.
func measureShoes(ctx context.Context, w io.Writer, names []string, folder string) error {
	finder, err := vision.NewShoeFinder(2)
	if err != nil {
		return err
	}
	defer finder.Close()
	out := newTable(w)
	fmt.Fprintln(out, "Clip\tShoe found in\tStanding is off by\tAgainst standing: heel down\t95 % below\theel up\t"+
		"95 % below")
	for _, name := range names {
		if err := measureShoe(ctx, out, finder, filepath.Join(folder, name)); err != nil {
			return err
		}
	}
	return out.Flush()
}

func measureShoe(ctx context.Context, w io.Writer, finder *vision.ShoeFinder, path string) error {
	t, err := readTruth(path + ".json")
	if err != nil {
		return err
	}
	clip, err := media.Open(ctx, path+".mp4")
	if err != nil {
		return err
	}
	frames, err := clip.Frames(ctx)
	if err != nil {
		return err
	}
	defer frames.Close()
	var stand, off []float64
	var up []bool
	looked := 0
	var shoe vision.Shoe
	for {
		frame, err := frames.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if frame.Index >= len(t.Frames) {
			frame.Close()
			continue
		}
		f := &t.Frames[frame.Index]
		ankle, knee := f.Points[t.Near+"_ankle"], f.Points[t.Near+"_knee"]
		s, found, err := finder.Find(frame.Mat, plane.XY{X: ankle[0], Y: ankle[1]},
			math.Hypot(knee[0]-ankle[0], knee[1]-ankle[1]), shoe)
		frame.Close()
		if err != nil {
			return err
		}
		looked++
		shoe = vision.Shoe{}
		if !found {
			continue
		}
		shoe = s
		// The truth counts a heel that is up as positive; the foot then turns toward its toes.
		d := t.sign()*s.TiltDeg() - f.Angles["foot_pitch"]
		if f.Phase == t.Frames[0].Phase {
			stand = append(stand, d)
		}
		off, up = append(off, d), append(up, f.HeelRiseM > 0.005)
	}
	if len(stand) == 0 {
		fmt.Fprintf(w, "%s\t%d of %d, none in standing\n", filepath.Base(path), len(off), looked)
		return nil
	}
	middle := quantileOf(stand, 0.5)
	var errs [2][]float64 // heel down, heel up
	for i, d := range off {
		where := 0
		if up[i] {
			where = 1
		}
		errs[where] = append(errs[where], math.Abs(d-middle))
	}
	mean := func(v []float64) float64 {
		sum := 0.0
		for _, x := range v {
			sum += x
		}
		return sum / float64(len(v))
	}
	row := fmt.Sprintf("%s\t%d of %d\t%.1f", filepath.Base(path), len(off), looked, middle)
	for _, v := range errs {
		if len(v) == 0 {
			row += "\t-\t-"
			continue
		}
		row += fmt.Sprintf("\t%.1f\t%.1f", mean(v), quantileOf(v, 0.95))
	}
	fmt.Fprintln(w, row)
	return nil
}
