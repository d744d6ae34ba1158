// Command bench measures what a frame of a clip costs in each stage, and what a coach
// waits for at the page.
package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	ort "github.com/yalue/onnxruntime_go"

	"holdfast/models"
	"holdfast/report"
	"holdfast/screening"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

const (
	usualClip = "testdata/clips/fast.mp4"
	lastFile  = "scripts/bench.txt"
	model     = vision.DefaultModel
	threads   = 2
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string) error {
	switch strings.Join(args, " ") {
	case "clips":
		return measureClips(ctx, []int{1, 12})
	case "clips long":
		return measureClips(ctx, []int{1, 12, 60})
	case "pages":
		return pages(ctx)
	}
	path := usualClip
	if len(args) > 0 {
		path = args[0]
	}
	clip, err := media.Open(ctx, path)
	if err != nil {
		return err
	}
	frames := float64(len(clip.TimesS))
	perFrame := func(d time.Duration) float64 { return d.Seconds() * 1000 / frames }
	folder, err := os.MkdirTemp("", "holdfast-bench-")
	if err != nil {
		return fmt.Errorf("making a temporary folder: %w", err)
	}
	defer os.RemoveAll(folder)

	decoding, err := timed(func() error { return decode(ctx, clip, nil) })
	if err != nil {
		return err
	}
	encoding, err := timed(func() error {
		out, err := media.NewVideoWriter(ctx, filepath.Join(folder, "encoded.mp4"), clip.WidthPx, clip.HeightPx)
		if err != nil {
			return err
		}
		defer out.Abort()
		if err := decode(ctx, clip, out); err != nil {
			return err
		}
		return out.Close()
	})
	if err != nil {
		return err
	}
	// Shared machines drift: the network alone is timed before, between and after
	// what it is compared with.
	var alone [3]time.Duration
	if alone[0], err = networksAlone(model, 40); err != nil {
		return err
	}
	var track *pose.Track
	var analysis *screening.Analysis
	analyzing, err := timed(func() (err error) {
		analysis, track, err = screening.Analyze(ctx, path, screening.Options{Model: model, Athlete: "bench"})
		return err
	})
	if err != nil {
		return err
	}
	measuring, err := timed(func() error {
		_, err := screening.Measure(clip, track, screening.Options{Model: model})
		return err
	})
	if err != nil {
		return err
	}
	if alone[1], err = networksAlone(model, 40); err != nil {
		return err
	}
	writing, err := timed(func() error {
		_, err := report.WriteAnalysis(ctx, filepath.Join(folder, "result"), analysis, track, report.Options{Video: true})
		return err
	})
	if err != nil {
		return err
	}
	if alone[2], err = networksAlone(model, 40); err != nil {
		return err
	}
	slices.Sort(alone[:])
	network := alone[1]
	desk, err := measureDesk(ctx, folder, clip, track)
	if err != nil {
		return err
	}

	var table bytes.Buffer
	out := io.MultiWriter(os.Stdout, &table)
	fmt.Fprintf(out, "%s: %d x %d, %.0f frames; %s/%s, %d cores; milliseconds a frame, one run\n\n",
		filepath.Base(path), clip.WidthPx, clip.HeightPx, frames, runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	t := tabwriter.NewWriter(out, 0, 0, 3, ' ', tabwriter.AlignRight)
	for _, r := range []struct {
		stage string
		ms    float64
	}{
		{"decoding alone", perFrame(decoding)},
		{"the networks alone (" + model + ", median of three times 40)", network.Seconds() * 1000},
		{"analysis: decoding, detection, network, measuring", perFrame(analyzing)},
		{"of which measuring", perFrame(measuring)},
		{"decoding and encoding, nothing drawn", perFrame(encoding)},
		{"results: decoding, drawing, encoding, stills, tables", perFrame(writing)},
		{"drawing, stills and tables (the difference)", perFrame(writing - encoding)},
		{"whole: analysis and results", perFrame(analyzing + writing)},
	} {
		fmt.Fprintf(t, "%s\t%.2f\t\n", r.stage, r.ms)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nThe analysis takes %.2f times, the whole %.2f times as long as the networks alone.\n",
		perFrame(analyzing)/(network.Seconds()*1000), perFrame(analyzing+writing)/(network.Seconds()*1000))
	fmt.Fprintf(out, "\nAt the desk: milliseconds; a minute is the clip repeated %d times, "+
		"the page is 1280 pixels wide\n\n",
		longTimes)
	t = tabwriter.NewWriter(out, 0, 0, 3, ' ', tabwriter.AlignRight)
	fmt.Fprintf(t, "\tmedian\t95 %%\truns\t\n")
	for _, r := range desk {
		fmt.Fprintf(t, "%s\t%.0f\t%.0f\t%d\t\n", r.what, r.at(50), r.at(95), len(r.ms))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if len(args) > 0 {
		return nil
	}
	return keep(lastFile, table.Bytes())
}

// keep writes a file of figures whole or not at all.
func keep(file string, figures []byte) error {
	part := file + ".part"
	if err := os.WriteFile(part, figures, 0o644); err != nil {
		return fmt.Errorf("keeping the figures: %w", err)
	}
	return os.Rename(part, file)
}

func timed(work func() error) (time.Duration, error) {
	start := time.Now()
	err := work()
	return time.Since(start), err
}

// decode goes through a clip, and writes its frames to out unless that is nil.
func decode(ctx context.Context, clip *media.Clip, out *media.VideoWriter) error {
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
		if out != nil {
			err = encode(f, out)
		}
		f.Close()
		if err != nil {
			return err
		}
	}
}

func encode(f *media.Frame, out *media.VideoWriter) error {
	canvas, err := f.Canvas()
	if err != nil {
		return err
	}
	return out.Write(canvas, f.TimeS)
}

// networksAlone returns how long one run of a model takes, of all its networks one after the other.
func networksAlone(name string, runs int) (sum time.Duration, err error) {
	for _, part := range models.Parts(name) {
		one, err := networkAlone(part, runs)
		if err != nil {
			return 0, err
		}
		sum += one
	}
	return sum, nil
}

// networkAlone returns the median time of one run of a network, with nothing
// around it.
func networkAlone(name string, runs int) (time.Duration, error) {
	n, err := openNetwork(name)
	if err != nil {
		return 0, err
	}
	defer n.close()
	var times []time.Duration
	for range runs {
		spent, err := timed(n.run)
		if err != nil {
			return 0, err
		}
		times = append(times, spent)
	}
	slices.Sort(times)
	return times[len(times)/2], nil
}

// bare is a network with nothing around it.
type bare struct {
	session *ort.DynamicAdvancedSession
	in      *ort.Tensor[float32]
	size    image.Point // of its input, pixels
	outputs []ort.Value
}

func openNetwork(name string) (_ *bare, err error) {
	if !ort.IsInitialized() {
		lib, err := models.RuntimeLibrary()
		if err != nil {
			return nil, err
		}
		ort.SetSharedLibraryPath(lib)
		if err := ort.InitializeEnvironment(); err != nil {
			return nil, fmt.Errorf("starting ONNX Runtime: %w", err)
		}
	}
	m, err := models.Load(name)
	if err != nil {
		return nil, err
	}
	n := &bare{size: image.Pt(m.Manifest.Input.Width, m.Manifest.Input.Height)}
	defer func() {
		if err != nil {
			n.close()
		}
	}()
	if n.in, err = ort.NewEmptyTensor[float32](ort.NewShape(1, 3, int64(n.size.Y), int64(n.size.X))); err != nil {
		return nil, err
	}
	var names []string
	for _, o := range m.Manifest.Outputs {
		names = append(names, o.Name)
	}
	n.outputs = make([]ort.Value, len(names)) // made by the library
	opt, err := ort.NewSessionOptions()
	if err != nil {
		return nil, err
	}
	defer opt.Destroy()
	if err = errors.Join(opt.SetGraphOptimizationLevel(ort.GraphOptimizationLevelEnableAll),
		opt.SetIntraOpNumThreads(threads)); err != nil {
		return nil, err
	}
	n.session, err = ort.NewDynamicAdvancedSessionWithONNXData(m.ONNX, []string{m.Manifest.Input.Name}, names, opt)
	return n, err
}

// run runs the network on what its input holds.
func (n *bare) run() error {
	clear(n.outputs)
	err := n.session.Run([]ort.Value{n.in}, n.outputs)
	for _, o := range n.outputs {
		if o != nil {
			err = errors.Join(err, o.Destroy())
		}
	}
	return err
}

func (n *bare) close() {
	if n.session != nil {
		_ = n.session.Destroy() // native memory always closes
	}
	if n.in != nil {
		_ = n.in.Destroy()
	}
}
