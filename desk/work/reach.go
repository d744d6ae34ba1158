package work

import (
	"os"
	"os/exec"

	"holdfast/confine"
	"holdfast/models"
)

// reachOf is all that the child process of an order gets at: the files of its clips to
// read, its folder to write, the networks and their library, and the decoder.
func reachOf(o *Order) confine.Reach {
	r := confine.Reach{Write: []string{o.Dir}, Read: []string{os.Getenv(models.FolderEnv)}}
	for _, c := range o.Clips {
		r.Read = append(r.Read, c.Path, c.Analysis, c.Track)
	}
	if library, err := models.RuntimeLibrary(); err == nil { // else the work says what is missing
		r.Read = append(r.Read, library)
	}
	for _, name := range []string{"ffmpeg", "ffprobe"} {
		if path, err := exec.LookPath(name); err == nil {
			r.Run = append(r.Run, path)
		}
	}
	return r
}
