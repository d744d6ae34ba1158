package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
	"text/tabwriter"
	"time"

	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

const (
	clipsFile = "scripts/bench-clips.txt"
	clipRuns  = 3
)

// measureClips writes how long slow, fast and jump clips take beside their playing time and beside the plainest loop
// over the same networks, and what memory a clip takes by its length.
func measureClips(ctx context.Context, repeated []int) error {
	var table bytes.Buffer
	out := io.MultiWriter(os.Stdout, &table)
	fmt.Fprintf(out, "Clips of 1280 x 720 at 60 frames a second; %s/%s, %d cores, %s;\n"+
		"seconds for ten seconds of clip, median of %d runs and their range. Plain: decode a frame, cut it out,\n"+
		"run the networks one after the other, every frame.\n\n",
		runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), model, clipRuns)
	t := tabwriter.NewWriter(out, 0, 0, 3, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "clip\tplays, s\tanalysis\trange\twith video and pictures\trange\tplain\tplain over analysis\t")
	for _, name := range []string{"slow", "fast", "jump"} {
		if err := measureClip(ctx, t, filepath.Join("testdata", "clips", name+".mp4")); err != nil {
			return err
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if err := measureBudget(ctx, out); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nMemory of an analysis without ffmpeg's, at its most, MB\n\n")
	t = tabwriter.NewWriter(out, 0, 0, 3, ' ', tabwriter.AlignRight)
	for _, times := range repeated {
		mb, seconds, err := memoryOf(ctx, times)
		if err != nil {
			return err
		}
		fmt.Fprintf(t, "%.0f s\t%.0f\t\n", seconds, mb)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	return keep(clipsFile, table.Bytes())
}

func measureClip(ctx context.Context, t io.Writer, path string) error {
	clip, folder, err := benchClip(ctx, path)
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	var analysing, whole, plain []float64
	tenS := func(d time.Duration) float64 { return d.Seconds() * 10 / clip.DurationS }
	for range clipRuns {
		start := time.Now()
		a, track, err := screening.Analyze(ctx, path, screening.Options{Model: model, Athlete: "bench"})
		if err != nil {
			return err
		}
		analysing = append(analysing, tenS(time.Since(start)))
		_, err = report.WriteAnalysis(ctx, filepath.Join(folder, "result"), a, track, report.Options{Video: true})
		if err != nil {
			return err
		}
		whole = append(whole, tenS(time.Since(start)))
	}
	start := time.Now()
	if err := plainLoop(ctx, clip); err != nil {
		return err
	}
	plain = append(plain, tenS(time.Since(start)))
	for _, s := range [][]float64{analysing, whole} {
		slices.Sort(s)
	}
	middle := clipRuns / 2
	fmt.Fprintf(t, "%s\t%.1f\t%.1f\t%.1f to %.1f\t%.1f\t%.1f to %.1f\t%.1f\t%.1f\t\n", filepath.Base(path), clip.DurationS,
		analysing[middle], analysing[0], analysing[clipRuns-1], whole[middle], whole[0], whole[clipRuns-1], plain[0],
		plain[0]/analysing[middle])
	return nil
}

// measureBudget writes where the processor's time goes, a frame of each clip.
func measureBudget(ctx context.Context, out io.Writer) error {
	fmt.Fprintf(out, "\nProcessor milliseconds a frame, all cores together, median of %d runs; in brackets ffmpeg's.\n\n",
		clipRuns)
	t := tabwriter.NewWriter(out, 0, 0, 3, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, "clip\tdecoding\tanalysis\tof it measuring\tvideo and pictures\t")
	for _, name := range []string{"slow", "fast", "jump"} {
		if err := measureStages(ctx, t, filepath.Join("testdata", "clips", name+".mp4")); err != nil {
			return err
		}
	}
	return t.Flush()
}

// measureStages writes the row of a clip.
func measureStages(ctx context.Context, t io.Writer, path string) error {
	clip, folder, err := benchClip(ctx, path)
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	var a *screening.Analysis
	var track *pose.Track
	opt := screening.Options{Model: model, Athlete: "bench"}
	fmt.Fprint(t, filepath.Base(path), "\t")
	for _, stage := range []func() error{
		func() error { return decode(ctx, clip, nil) },
		func() (err error) { a, track, err = screening.Analyze(ctx, path, opt); return err },
		func() error { _, err := screening.Measure(clip, track, opt); return err },
		func() error {
			_, err := report.WriteAnalysis(ctx, filepath.Join(folder, "result"), a, track, report.Options{Video: true})
			return err
		},
	} {
		own, others, err := spent(stage)
		if err != nil {
			return err
		}
		k := 1000 / float64(len(clip.TimesS))
		fmt.Fprintf(t, "%.1f (%.1f)\t", k*(own+others), k*others)
	}
	fmt.Fprintln(t)
	return nil
}

// benchClip opens a clip and makes a temporary folder for what is written of it.
func benchClip(ctx context.Context, path string) (clip *media.Clip, folder string, err error) {
	if clip, err = media.Open(ctx, path); err != nil {
		return nil, "", err
	}
	if folder, err = os.MkdirTemp("", "holdfast-bench-"); err != nil {
		return nil, "", fmt.Errorf("making a temporary folder: %w", err)
	}
	return clip, folder, nil
}

// spent returns the medians of the processor's seconds that this program and those that it starts take for some work.
func spent(work func() error) (own, others float64, err error) {
	var owns, all []float64
	for range clipRuns {
		own, others := processorS(syscall.RUSAGE_SELF), processorS(syscall.RUSAGE_CHILDREN)
		if err := work(); err != nil {
			return 0, 0, err
		}
		owns = append(owns, processorS(syscall.RUSAGE_SELF)-own)
		all = append(all, processorS(syscall.RUSAGE_CHILDREN)-others)
	}
	slices.Sort(owns)
	slices.Sort(all)
	return owns[clipRuns/2], all[clipRuns/2], nil
}

func processorS(who int) float64 {
	var used syscall.Rusage
	if err := syscall.Getrusage(who, &used); err != nil {
		return math.NaN()
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano()).Seconds()
}

// plainLoop is the plainest program over the same networks: nothing overlaps, and every frame is looked at.
func plainLoop(ctx context.Context, clip *media.Clip) error {
	var networks []*bare
	defer func() {
		for _, n := range networks {
			n.close()
		}
	}()
	for _, part := range models.Parts(model) {
		n, err := openNetwork(part)
		if err != nil {
			return err
		}
		networks = append(networks, n)
	}
	frames, err := clip.Frames(ctx)
	if err != nil {
		return err
	}
	defer frames.Close()
	for {
		f, err := frames.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		for _, n := range networks {
			err = errors.Join(err, n.lookAt(f.Mat))
		}
		f.Close()
		if err != nil {
			return err
		}
	}
}

// lookAt cuts the middle out of a picture and runs the network on it.
func (n *bare) lookAt(picture gocv.Mat) error {
	side := min(picture.Cols(), picture.Rows())
	x := (picture.Cols() - side) / 2
	middle, small := picture.Region(image.Rect(x, 0, x+side, side)), gocv.NewMat()
	defer middle.Close()
	defer small.Close()
	gocv.Resize(middle, &small, n.size, 0, 0, gocv.InterpolationLinear)
	pixels, err := small.DataPtrUint8()
	if err != nil {
		return fmt.Errorf("cutting out the middle: %w", err)
	}
	to, plane := n.in.GetData(), len(pixels)/3
	for i, v := range pixels {
		to[i%3*plane+i/3] = float32(v) / 255
	}
	return n.run()
}

// memoryOf analyses the usual clip repeated so many times and returns the most memory that the program held, and how
// long that clip lasts.
func memoryOf(ctx context.Context, times int) (mb, seconds float64, err error) {
	folder, err := os.MkdirTemp("", "holdfast-bench-")
	if err != nil {
		return 0, 0, fmt.Errorf("making a temporary folder: %w", err)
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "long.mp4")
	args := []string{"-v", "error", "-stream_loop", fmt.Sprint(times - 1), "-i", usualClip, "-c", "copy", path}
	if said, err := exec.CommandContext(ctx, "ffmpeg", args...).CombinedOutput(); err != nil {
		return 0, 0, fmt.Errorf("repeating the clip: %w: %s", err, said)
	}
	clip, err := media.Open(ctx, path)
	if err != nil {
		return 0, 0, err
	}
	cmd := exec.CommandContext(ctx, "bin/holdfast", "analyze", path, "--no-video",
		"--out", filepath.Join(folder, "result"))
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		return 0, 0, fmt.Errorf("starting an analysis: %w", err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	// What the system tells of a program that has ended counts the memory of the one that started it as well.
	often := time.NewTicker(100 * time.Millisecond)
	defer often.Stop()
	for {
		select {
		case err := <-ended:
			if err != nil {
				return 0, 0, fmt.Errorf("analysing %.0f s: %w: %s", clip.DurationS, err, said.Bytes())
			}
			if mb == 0 {
				return 0, 0, errors.New("this system does not tell what memory a program takes")
			}
			return mb, clip.DurationS, nil
		case <-often.C:
			mb = max(mb, peakMB(cmd.Process.Pid))
		}
	}
}

// peakMB returns the most memory that a running program had so far, 0 where it is not known.
func peakMB(pid int) float64 {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	_, after, _ := bytes.Cut(status, []byte("VmHWM:"))
	var kB float64
	if _, err := fmt.Sscan(string(after), &kB); err != nil {
		return 0
	}
	return kB / 1024
}
