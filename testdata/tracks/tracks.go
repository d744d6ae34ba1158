// Package tracks holds what the default network saw in the clips of the example, and what their
// files say of themselves, so that the example can be shown without asking the network.
// The tracks of the other clips beside them are for tests.
package tracks

import (
	"embed"
	"encoding/json"
	"fmt"

	"holdfast/screening"
	"holdfast/vision/pose"
)

//go:embed slow.track.json.gz fast.track.json.gz jump.track.json.gz slow.clip.json fast.clip.json jump.clip.json
var files embed.FS

// Of returns what is known of a clip of the example; name is without ".mp4".
func Of(name string) (info screening.ClipInfo, track *pose.Track, err error) {
	var a screening.Analysis // with nothing but its clip
	text, err := files.ReadFile(name + ".clip.json")
	if err == nil {
		err = json.Unmarshal(text, &a)
	}
	if err != nil {
		return info, nil, fmt.Errorf("reading what is known of %s: %w", name, err)
	}
	f, err := files.Open(name + ".track.json.gz")
	if err != nil {
		return info, nil, fmt.Errorf("reading the track of %s: %w", name, err)
	}
	defer f.Close()
	track, err = pose.ReadTrack(f)
	return a.Clip, track, err
}
