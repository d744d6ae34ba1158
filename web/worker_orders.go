package web

import (
	"holdfast/kinematics"
	"holdfast/vision"
)

// The kinds of work that a child process does.
const (
	workAnalyze = "analyze" // track and measure a clip, make its video for the page
	workVideo   = "video"   // the annotated video of a measured clip
	workStills  = "stills"  // the stills of a clip that was measured again
	workCompare = "compare" // the report of a comparison
)

// workOrder is the one line of JSON that a child process reads: all it may know.
type workOrder struct {
	Kind string `json:"kind"`
	// Dir is an empty folder for what is made.
	Dir   string     `json:"dir"`
	Clips []workClip `json:"clips"`
	Model string     `json:"model"` // the network that finds the body; empty: the best one
	// Athlete is the name printed on reports.
	Athlete           string   `json:"athlete"`
	BlurFace          bool     `json:"blur_face"`
	Video             bool     `json:"video"`
	SmallestChangeDeg float64  `json:"smallest_change_deg"`
	Sides             []string `json:"sides"` // what the clips differ in other than tempo
	// Axis is that in which the sides differ.
	Axis   kinematics.Axis `json:"axis"`
	Dates  []string        `json:"dates"` // when they were filmed
	Date   string          `json:"date"`
	Limits workLimits      `json:"limits"`
	// Watched says that the standard input stays open as long as somebody waits for
	// the work: at its end the process ends, with all it started.
	Watched bool `json:"watched"`
	// Confined takes all but this order's files from the process, for good.
	Confined bool `json:"confined"`
}

// workClip is one clip of an order. Analysis and Track are the files of its stored
// result, where it has been measured already.
type workClip struct {
	Path       string  `json:"path"`
	Name       string  `json:"name"`
	Tempo      string  `json:"tempo"`
	HeightCm   float64 `json:"height_cm"`
	CaptureFPS float64 `json:"capture_fps"`
	Analysis   string  `json:"analysis"`
	Track      string  `json:"track"`
}

// workLimits are what a child process may use; 0: no limit.
type workLimits struct {
	ClipMinutes float64 `json:"clip_minutes"`
	FramePx     int     `json:"frame_px"`
	DataBytes   int64   `json:"data_bytes"` // of each process by itself
	FileBytes   int64   `json:"file_bytes"`
	CPUS        int64   `json:"cpu_s"`
}

// The events of a workLine.
const (
	eventClip     = "clip"     // the clip's length is known
	eventProgress = "progress" // Done of Total steps of Stage
	eventMade     = "made"     // Name lies in the folder, complete
	eventFailed   = "failed"   // Error, and what to do: Hint
	eventDone     = "done"
)

// workLine is one line of JSON that a child process prints.
type workLine struct {
	Event  string `json:"event"`
	Stage  string `json:"stage,omitempty"`
	Done   int    `json:"done,omitempty"`
	Total  int    `json:"total,omitempty"`
	Frames int    `json:"frames,omitempty"`
	Name   string `json:"name,omitempty"`
	Error  string `json:"error,omitempty"`
	Hint   string `json:"hint,omitempty"`
}

// What a child process makes, in its folder.
const (
	madeAnalysis = "result" // a folder as report.WriteAnalysis writes it
	madeTrack    = "track.json.gz"
	madeWebVideo = "web.mp4"
)

// tooMuch refuses a clip whose pictures are beyond the limit.
func (l workLimits) tooMuch(clip *vision.Clip) (text, hint string) {
	if l.FramePx > 0 && clip.WidthPx*clip.HeightPx > l.FramePx {
		return "the picture of the clip is too large", "film in 1080p or 4K"
	}
	return "", ""
}
