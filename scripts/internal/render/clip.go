package render

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// WriteClip renders a scene into dir: NAME.mp4, and NAME.json with its truth. Both are written under another name
// first.
func (s *Scene) WriteClip(ctx context.Context, dir, name string) error {
	path := filepath.Join(dir, name+".mp4")
	if err := s.encode(ctx, path+".part"); err != nil {
		return fmt.Errorf("rendering the clip %s: %w", name, err)
	}
	if err := s.WriteTruth(dir, name); err != nil {
		return err
	}
	if err := os.Rename(path+".part", path); err != nil {
		return fmt.Errorf("keeping the clip %s: %w", name, err)
	}
	return nil
}

// WriteTruth writes the truth of a scene's clip into dir, NAME.json, under another name first.
func (s *Scene) WriteTruth(dir, name string) error {
	path := filepath.Join(dir, name+".json")
	truth, err := json.Marshal(s.Truth(name + ".mp4"))
	if err == nil {
		err = os.WriteFile(path+".part", truth, 0o644)
	}
	if err == nil {
		err = os.Rename(path+".part", path)
	}
	if err != nil {
		return fmt.Errorf("writing the truth of %s: %w", name, err)
	}
	return nil
}

// encode pipes the frames of a scene into ffmpeg.
func (s *Scene) encode(ctx context.Context, path string) (err error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	c := &s.Camera
	ffmpeg := exec.CommandContext(ctx, "ffmpeg", "-v", "error", "-y",
		"-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", fmt.Sprintf("%dx%d", c.Width, c.Height),
		"-r", strconv.Itoa(s.RateHz), "-i", "-",
		"-c:v", "libx264", "-preset", "veryfast", "-threads", "1", "-crf", strconv.Itoa(s.Picture.CRF),
		"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv",
		"-movflags", "+faststart", "-f", "mp4", path)
	var complaints bytes.Buffer
	ffmpeg.Stderr = &complaints
	in, err := ffmpeg.StdinPipe()
	if err != nil {
		return fmt.Errorf("starting ffmpeg: %w", err)
	}
	if err := ffmpeg.Start(); err != nil {
		return fmt.Errorf("starting ffmpeg, which scripts/setup installs: %w", err)
	}
	p := newPainter(s)
	for i := range s.Frames() {
		f := p.at(i, s.frameTimeS(i))
		for _, plane := range [][]byte{f.Y, f.Cb, f.Cr} {
			if _, err = in.Write(plane); err != nil {
				break
			}
		}
		if err != nil || ctx.Err() != nil {
			break
		}
	}
	if closed := in.Close(); err == nil {
		err = closed
	}
	if ended := ffmpeg.Wait(); ended != nil {
		return fmt.Errorf("encoding: %w: %s", ended, strings.TrimSpace(complaints.String()))
	}
	return err
}

// Still returns the frame at a time; with marks, the truth's points are drawn on it, green on the athlete's left and
// red on the right.
func (s *Scene) Still(timeS float64, marks bool) *image.RGBA {
	img := newPainter(s).at(0, timeS).Image()
	if !marks {
		return img
	}
	truth := s.frameAt(0, timeS)
	for name, p := range truth.Points {
		c := color.RGBA{255, 0, 0, 255}
		if strings.HasPrefix(name, "left") {
			c = color.RGBA{0, 255, 0, 255}
		}
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				img.SetRGBA(int(p[0])+dx, int(p[1])+dy, c)
			}
		}
	}
	return img
}

// WriteStill writes a still as PNG.
func (s *Scene) WriteStill(path string, timeS float64, marks bool) error {
	var data bytes.Buffer
	if err := png.Encode(&data, s.Still(timeS, marks)); err != nil {
		return fmt.Errorf("writing the still %s: %w", path, err)
	}
	if err := os.WriteFile(path+".part", data.Bytes(), 0o644); err != nil {
		return fmt.Errorf("writing the still %s: %w", path, err)
	}
	return os.Rename(path+".part", path)
}
