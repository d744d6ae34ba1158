package media

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strings"

	"holdfast/confine"
)

// containers are ffmpeg's names of the formats that a clip may have, the same as
// CheckContainer's. ffmpeg knows many more; some are lists that make it open other files.
const containers = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg"

// clipReader is a program of ffmpeg's that reads one clip and reaches nothing else.
type clipReader struct {
	*exec.Cmd
	clip *os.File
}

// readClip prepares a program to read a clip, between other arguments. The program is
// handed the clip open, so that it needs no file's name, and may follow no reference from
// it. Its start must be called, which closes the clip. Errors are those of CheckContainer
// and of opening the file.
func readClip(ctx context.Context, program, path string, before, after []string) (*clipReader, error) {
	clip, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrUnreadable, errors.Unwrap(err))
	}
	info, err := clip.Stat()
	if err == nil {
		err = CheckContainer(clip, info.Size())
	}
	if err != nil {
		return nil, errors.Join(err, clip.Close())
	}
	args := append(append([]string(nil), before...), "-format_whitelist", containers, "-protocol_whitelist", "file,pipe",
		"-i", clipArgument(path))
	r := &clipReader{Cmd: exec.CommandContext(ctx, program, append(args, after...)...), clip: clip}
	if runtime.GOOS != "windows" {
		r.ExtraFiles = []*os.File{clip}
	}
	return r, nil
}

// start starts the program.
func (r *clipReader) start() error {
	return errors.Join(confine.Start(r.Cmd, confine.Reach{}), r.clip.Close())
}

// clipArgument is what a program opens to read the clip it was handed: the first of its
// files after the three that every program has. Windows hands on no open files.
func clipArgument(path string) string {
	switch runtime.GOOS {
	case "windows":
		return fileArgument(path)
	case "linux":
		return "file:/proc/self/fd/3"
	}
	return "file:/dev/fd/3"
}

// fileArgument keeps a path that holds a colon or begins with a dash from being
// taken for a protocol or an option.
func fileArgument(path string) string { return "file:" + path }

// lastLine returns the last line a program printed about a clip, without the name that it
// knew the clip by.
func lastLine(s, path string) string {
	lines := strings.Split(strings.TrimSpace(s), "\n")
	l := strings.TrimSpace(lines[len(lines)-1])
	l = strings.ReplaceAll(l, clipArgument(path)+": ", "")
	if l == "" {
		return "it is no video"
	}
	return l
}
