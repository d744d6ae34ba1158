package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image/color"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk/work"
	"holdfast/models"
	"holdfast/vision"
	"holdfast/vision/device"
	"holdfast/vision/media"
	"holdfast/vision/paint"
)

// errWeaker marks what Holdfast works without, less safely.
var errWeaker error = saidError("doctor.weaker")

// errMissing marks what doctor found missing or broken.
var errMissing error = saidError("doctor.lacking")

func newDoctorCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:  "doctor",
		Args: arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.runDoctor(cmd.Context(), checks())
		},
	}
}

// check is one thing that doctor looks at.
type check struct {
	name string
	// look returns what was found, in a few words.
	look func(context.Context) (string, error)
	// remedy says how to get what is missing.
	remedy string
}

func checks() []check {
	list := []check{
		{"ffmpeg", func(ctx context.Context) (string, error) { return programVersion(ctx, "ffmpeg") }, installHint("ffmpeg")},
		{"ffprobe", func(ctx context.Context) (string, error) { return programVersion(ctx, "ffprobe") },
			installHint("ffmpeg")},
		{terminal.Text("doctor.encoder"), checkEncoder, terminal.Text("doctor.encoder_remedy")},
		{"OpenCV", checkOpenCV, installHint("OpenCV")},
		{"ONNX Runtime", func(context.Context) (string, error) { return models.RuntimeLibrary() },
			terminal.Text("doctor.runtime_remedy")},
		{terminal.Text("doctor.telemetry"), checkTelemetry,
			terminal.Text("doctor.telemetry_remedy")},
	}
	list = append(list, check{terminal.Text("doctor.devices"), func(context.Context) (string, error) {
		usable, err := device.Usable()
		return terminal.Text("doctor.devices_used", "usable", usable), err
	}, terminal.Text("doctor.devices_remedy")})
	names, err := models.Names()
	if err != nil {
		list = append(list, check{terminal.Text("doctor.models"), func(context.Context) (string, error) { return "", err },
			terminal.Text("doctor.models_remedy")})
	}
	for _, name := range names {
		list = append(list, check{terminal.Text("doctor.model", "name", name), func(context.Context) (string, error) {
			m, err := models.Load(name)
			if err != nil {
				return "", err
			}
			return fmt.Sprintf("%d kB, SHA-256 %s", len(m.ONNX)/1000, m.Manifest.SHA256), nil
		}, terminal.Text("doctor.model_remedy")})
	}
	for _, wall := range work.Confinement() {
		list = append(list, check{terminal.Text("doctor.confinement"), func(context.Context) (string, error) {
			if !wall.Stands {
				return "", fmt.Errorf("%w: %s", errWeaker, wall.Text)
			}
			return wall.Text, nil
		}, wall.Remedy})
	}
	return append(list, check{terminal.Text("doctor.chain"), checkChain,
		terminal.Text("doctor.chain_remedy")})
}

// runDoctor looks at everything, also after something was found missing.
func (a *app) runDoctor(ctx context.Context, list []check) error {
	terminal.Say(a.stdout, "%s\n", versionLine())
	var lacking []string
	t := terminal.NewTable(a.stdout)
	for _, c := range list {
		found, err := c.look(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			state := terminal.Text("doctor.weak")
			if !errors.Is(err, errWeaker) {
				state = terminal.Text("doctor.missing")
				lacking = append(lacking, c.name)
			}
			terminal.Row(t, state, c.name, strings.Join(strings.Fields(err.Error()), " "))
			terminal.Row(t, "", "", "-> "+c.remedy)
			continue
		}
		terminal.Row(t, terminal.Text("doctor.ok"), c.name, found)
	}
	_ = t.Flush() // a report for reading; the exit code says the same
	if len(lacking) > 0 {
		return fmt.Errorf("%w: %s", errMissing, strings.Join(lacking, ", "))
	}
	terminal.Tell(a.stdout, "doctor.all")
	return nil
}

// installHint says how a package is installed on this operating system.
func installHint(what string) string {
	names := map[string][3]string{ // Debian, Homebrew, Windows
		"ffmpeg": {"ffmpeg", "ffmpeg", "ffmpeg"},
		"OpenCV": {"libopencv-dev", "opencv", "OpenCV"},
	}[what]
	switch runtime.GOOS {
	case "darwin":
		return "brew install " + names[1]
	case "windows":
		return terminal.Text("doctor.install_windows", "what", names[2])
	}
	return terminal.Text("doctor.install", "what", names[0])
}

func programVersion(ctx context.Context, program string) (string, error) {
	path, err := exec.LookPath(program)
	if err != nil {
		return "", fmt.Errorf("%w: %s", media.ErrNotInstalled, program)
	}
	out, err := exec.CommandContext(ctx, path, "-version").Output()
	if err != nil {
		return "", fmt.Errorf("running %s -version: %w", path, err)
	}
	first, _, _ := strings.Cut(string(out), "\n")
	if words := strings.Fields(first); len(words) >= 3 { // "ffmpeg version 5.1.9-0+deb12u1 Copyright ..."
		return words[2] + ", " + path, nil
	}
	return path, nil
}

func checkEncoder(ctx context.Context) (string, error) {
	out, err := exec.CommandContext(ctx, "ffmpeg", "-v", "error", "-encoders").Output()
	if err != nil {
		return "", fmt.Errorf("asking ffmpeg for its encoders: %w", err)
	}
	if !bytes.Contains(out, []byte(" libx264 ")) {
		return "", fmt.Errorf("%w: ffmpeg lacks the encoder libx264", media.ErrNotInstalled)
	}
	return "libx264", nil
}

// checkTelemetry asks the environment that the library itself looks at.
func checkTelemetry(context.Context) (string, error) {
	if err := models.TurnTelemetryOff(); err != nil {
		return "", err
	}
	return terminal.Text("doctor.telemetry_off"), nil
}

// checkChain makes a clip of one second, decodes it and runs the networks on it.
// Nobody is in that clip, and that nobody is found is the right answer.
func checkChain(ctx context.Context) (string, error) {
	dir, err := os.MkdirTemp("", "holdfast-doctor-")
	if err != nil {
		return "", fmt.Errorf("making a temporary folder: %w", err)
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "test.mp4")
	make := exec.CommandContext(ctx, "ffmpeg", "-v", "error", "-nostdin", "-f", "lavfi", "-i",
		"testsrc2=size=320x240:rate=10",
		"-t", "1", "-pix_fmt", "yuv420p", path)
	if out, err := make.CombinedOutput(); err != nil {
		return "", fmt.Errorf("making a test clip: %w: %s", err, bytes.TrimSpace(out))
	}
	clip, err := media.Open(ctx, path)
	if err != nil {
		return "", err
	}
	tracker, err := vision.NewTracker(vision.TrackerOptions{})
	if err != nil {
		return "", err
	}
	_, err = tracker.Track(ctx, clip, nil)
	if closed := tracker.Close(); closed != nil {
		return "", closed
	}
	if err != nil && !errors.Is(err, vision.ErrNoPerson) {
		return "", err
	}
	return terminal.Text("doctor.chain_done", "number", len(clip.TimesS)), nil
}

// checkOpenCV uses the library once and names the file that was loaded.
func checkOpenCV(context.Context) (string, error) {
	canvas, err := paint.NewCanvas(16, 16, color.NRGBA{A: 255})
	if err != nil {
		return "", fmt.Errorf("%w: OpenCV: %w", media.ErrNotInstalled, err)
	}
	_, err = canvas.PNG()
	if closed := canvas.Close(); closed != nil {
		return "", closed
	}
	if err != nil {
		return "", fmt.Errorf("%w: OpenCV: %w", media.ErrNotInstalled, err)
	}
	// Linux lists the files a process has loaded.
	maps, err := os.ReadFile("/proc/self/maps")
	if err != nil {
		return "works", nil
	}
	for line := range strings.Lines(string(maps)) {
		if at := strings.Index(line, "/"); at >= 0 && strings.Contains(line, "libopencv_core") {
			path := strings.TrimSpace(line[at:])
			_, version, _ := strings.Cut(filepath.Base(path), ".so.")
			return version + ", " + path, nil
		}
	}
	return "works", nil
}
