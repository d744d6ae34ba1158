package work

import (
	"encoding/json"
	"io"
	"slices"

	"holdfast/desk/refusal"
	"holdfast/kinematics"
	"holdfast/printable"
	"holdfast/report/marked"
	"holdfast/vision/media"
)

// Kinds of work that a child process does.
const (
	KindAnalyze = "analyze" // track and measure a clip, make its video for the page
	KindVideo   = "video"   // the annotated video of a measured clip
	KindStills  = "stills"  // the stills of a clip that was measured again
	KindCompare = "compare" // the report of a comparison
)

// Order is the one line of JSON that a child process reads: all it may know.
type Order struct {
	Kind string `json:"kind"`
	// Dir is an empty folder for what is made.
	Dir   string `json:"dir"`
	Clips []Clip `json:"clips"`
	// Fronts are clips of the same sets from the front, for a report.
	Fronts []Clip `json:"fronts,omitempty"`
	Model  string `json:"model"` // the network that finds the body; empty: the best one
	// Athlete is the name printed on reports.
	Athlete  string `json:"athlete"`
	BlurFace bool   `json:"blur_face"`
	Video    bool   `json:"video"`
	// Comparison is the file of the comparison that a report is made of, Axis that in
	// which its sides differ.
	Comparison string          `json:"comparison"`
	Axis       kinematics.Axis `json:"axis"`
	Date       string          `json:"date"` // printed on a report
	Limits     orderLimits     `json:"limits"`
	// Movements are the files of a coach's own movements, by name.
	Movements map[string]string `json:"movements,omitempty"`
	// Watched says that the standard input stays open as long as somebody waits for
	// the work: at its end the process ends, with all it started.
	Watched bool `json:"watched"`
	// Confined takes all but this order's files from the process, for good.
	Confined bool `json:"confined"`
}

// Files lists the paths of the files that an order reads; some may be empty.
func (o *Order) Files() []string {
	paths := []string{o.Comparison}
	for _, c := range slices.Concat(o.Clips, o.Fronts) {
		paths = append(paths, c.Path, c.Analysis, c.Track)
	}
	return paths
}

// Clip is one clip of an order. Analysis and Track are the files of its stored
// result, where it has been measured already.
type Clip struct {
	Path       string  `json:"path"`
	Name       string  `json:"name"`
	Tempo      string  `json:"tempo"`
	HeightCm   float64 `json:"height_cm"`
	CaptureFPS float64 `json:"capture_fps"`
	LoadKg     float64 `json:"load_kg"`  // of the visit; 0: none is told of
	Movement   string  `json:"movement"` // its key; empty: found
	// TrimFromS and TrimToS bound what is measured, in seconds of the file; 0: nothing was said. A child measures the
	// whole clip, the desk the part of it.
	TrimFromS float64 `json:"trim_from_s"`
	TrimToS   float64 `json:"trim_to_s"`
	Analysis  string  `json:"analysis"`
	Track     string  `json:"track"`
	// Marks are what a coach marked by hand, for a report.
	Marks []marked.Mark `json:"marks"`
}

// orderLimits are what a child process may use; 0: no limit.
type orderLimits struct {
	ClipMinutes float64 `json:"clip_minutes"`
	FramePx     int     `json:"frame_px"`
	DataBytes   int64   `json:"data_bytes"` // of each process by itself
	FileBytes   int64   `json:"file_bytes"`
	CPUS        int64   `json:"cpu_s"`
}

// The events of a Line.
const (
	EventClip     = "clip"     // the clip's length is known
	EventProgress = "progress" // Done of Total steps of Stage
	EventMade     = "made"     // Name lies in the folder, complete
	EventFailed   = "failed"   // Error, and what to do: Hint
	EventDone     = "done"
)

// Line is one line of JSON that a child process prints.
type Line struct {
	Event  string `json:"event"`
	Stage  string `json:"stage,omitempty"`
	Done   int    `json:"done,omitempty"`
	Total  int    `json:"total,omitempty"`
	Frames int    `json:"frames,omitempty"`
	Name   string `json:"name,omitempty"`
	Error  string `json:"error,omitempty"`
	Hint   string `json:"hint,omitempty"`
	Reason string `json:"reason,omitempty"` // the code of the Error's kind; empty: it has none
}

// What a child process makes, in its folder.
const (
	MadeAnalysis = "result" // a folder as report.WriteAnalysis writes it
	MadeTrack    = "track.json.gz"
	MadeWebVideo = "web.mp4"
)

// allow refuses a clip whose pictures are beyond the limit.
func (l orderLimits) allow(clip *media.Clip) error {
	if l.FramePx > 0 && clip.WidthPx*clip.HeightPx > l.FramePx {
		return &refusal.Error{Kind: refusal.NotMeasurable, Code: "picture_too_large"}
	}
	return nil
}

// MeasuredWithFile lies beside an analysis and says what the numbers rest on that the
// coach gave. It tells whether the clip was changed since, for instance by a program
// that was killed between the change and the measuring.
const MeasuredWithFile = "measured_with.json"

// MeasuredWith is what a coach gives of a clip that its numbers rest on.
type MeasuredWith struct {
	Name       string  `json:"name"`
	Tempo      string  `json:"tempo"`       // empty: found
	HeightCm   float64 `json:"height_cm"`   // 0: not given
	CaptureFPS float64 `json:"capture_fps"` // 0: as the file says
	LoadKg     float64 `json:"load_kg"`     // 0: none is told of
	TrimFromS  float64 `json:"trim_from_s"` // 0: from the beginning
	TrimToS    float64 `json:"trim_to_s"`   // 0: to the end
	Movement   string  `json:"movement"`    // empty: found
}

// MeasuredWith returns what the clip is measured with.
func (c Clip) MeasuredWith() MeasuredWith {
	return MeasuredWith{c.Name, c.Tempo, c.HeightCm, c.CaptureFPS, c.LoadKg, c.TrimFromS, c.TrimToS, c.Movement}
}

// Load returns the load as an option of the measuring; nil where none is told of.
func (c Clip) Load() *float64 {
	if c.LoadKg > 0 {
		return &c.LoadKg
	}
	return nil
}

// Write writes it as JSON.
func (m MeasuredWith) Write(w io.Writer) error {
	text, err := json.Marshal(m)
	if err == nil {
		_, err = w.Write(append(printable.JSON(text), '\n'))
	}
	return err
}
