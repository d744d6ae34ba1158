package work

import (
	"os"
	"os/exec"

	"holdfast/confine"
	"holdfast/models"
)

// nameLibrary has this process and what it starts find the networks' library by its path: once
// confined, none of them can look through the folders where it may lie.
func nameLibrary() {
	if library, err := models.RuntimeLibrary(); err == nil { // else the work says what is missing
		_ = os.Setenv(models.RuntimeEnv, library) // fails for names that cannot be set alone
	}
}

// reachOf is all that the child process of an order gets at: the files of its clips to
// read, its folder to write, the networks and their library (see nameLibrary), and the decoder.
func reachOf(o *Order) confine.Reach {
	r := confine.Reach{Write: []string{o.Dir},
		Read: append(o.Files(), os.Getenv(models.FolderEnv), os.Getenv(models.RuntimeEnv))}
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		if path, err := exec.LookPath(name); err == nil {
			r.Run = append(r.Run, path)
		}
	}
	return r
}
