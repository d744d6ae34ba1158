package archive

import (
	"encoding/json"
	"fmt"
	"time"

	"holdfast/words"
)

// The errors that callers branch on.
var (
	// ErrNotArchive: the folder holds no archive; when it holds something else, none is
	// made there.
	ErrNotArchive error = words.Error("not_archive")
	// ErrInUse: another server has the folder.
	ErrInUse error = words.Error("in_use")
	// ErrNotFound: there is no such row or file.
	ErrNotFound error = words.Error("not_found")
	// ErrDamaged: the database or a file is not what was written.
	ErrDamaged error = words.Error("damaged")
	// ErrInvalid: what was to be stored is not allowed.
	ErrInvalid error = words.Error("invalid")
	// ErrNewerSchema: the folder was written by a newer program.
	ErrNewerSchema error = words.Error("newer_schema")
	// ErrTooLarge: a file is larger than allowed.
	ErrTooLarge error = words.Error("too_large")
)

// The errors that are cases of ErrInvalid.
var (
	// ErrAmbiguous: several athletes have the name.
	ErrAmbiguous error = &said{"several athletes have this name", ErrInvalid}
	// ErrNotEmpty: a backup is not restored over what is there.
	ErrNotEmpty error = &said{"the folder is not empty", ErrInvalid}
	// ErrKnownClip: an athlete has each clip once.
	ErrKnownClip error = &said{"the athlete has this clip already", ErrInvalid}
)

// said is an error in its own words that is a case of another, whose words it leaves
// out.
type said struct {
	text string
	of   error
}

func (e *said) Error() string { return e.text }
func (e *said) Unwrap() error { return e.of }

// PartialError says that something was written, but for files that are missing or not
// what was stored. It wraps ErrDamaged.
type PartialError struct {
	Path   string   // where it was written
	Damage []string // what is not whole, in words
}

// Error returns how much is not whole, and where the rest is.
func (e *PartialError) Error() string {
	return fmt.Sprintf("%v: missing or not what was stored: %s; the rest is in %s", ErrDamaged,
		countedFiles(len(e.Damage)), e.Path)
}

// Unwrap returns ErrDamaged.
func (e *PartialError) Unwrap() error { return ErrDamaged }

// partly returns err, or, when there was none but damage, a *PartialError.
func partly(err error, path string, damage []string) error {
	if err == nil && len(damage) > 0 {
		return &PartialError{Path: path, Damage: damage}
	}
	return err
}

// Athlete is a person who is filmed, by name or code.
type Athlete struct {
	ID        string    `json:"id"`
	Name      string    `json:"name"`
	HeightCm  *float64  `json:"height_cm"`
	BirthYear *int      `json:"birth_year"`
	Notes     string    `json:"notes"`
	Example   bool      `json:"example"` // the invented athlete of the demonstration
	CreatedAt time.Time `json:"created_at"`
}

// The conditions of a visit.
const (
	Fresh    = "fresh"
	Loaded   = "loaded"
	Fatigued = "fatigued"
)

// Visit is one date on which an athlete was filmed in one condition.
type Visit struct {
	ID        string   `json:"id"`
	AthleteID string   `json:"athlete_id"`
	Date      string   `json:"date"` // YYYY-MM-DD
	Condition string   `json:"condition"`
	LoadKg    *float64 `json:"load_kg"`
	Notes     string   `json:"notes"`
}

// Clip is one video file of an athlete.
type Clip struct {
	ID         string    `json:"id"`
	VisitID    string    `json:"visit_id"`
	AthleteID  string    `json:"athlete_id"`
	Name       string    `json:"name"` // to be shown; never a path
	SHA256     string    `json:"sha256"`
	SizeBytes  int64     `json:"size_bytes"`
	Tempo      string    `json:"tempo"` // given by the coach; empty: found
	HeightCm   *float64  `json:"height_cm"`
	CaptureFPS *float64  `json:"capture_fps"`
	AddedAt    time.Time `json:"added_at"`
	Result     *Result   `json:"result"` // nil: not measured yet
}

// File is a stored file under a name of its own.
type File struct {
	Name      string `json:"name"`
	SHA256    string `json:"sha256"`
	SizeBytes int64  `json:"size_bytes"`
}

// Result is what was measured in a clip.
type Result struct {
	ID            string    `json:"id"`
	ClipID        string    `json:"clip_id"`
	Revision      int       `json:"revision"`       // from 1, one more with each new result
	CorrectionSeq int       `json:"correction_seq"` // the correction it was measured with; 0: none
	CreatedAt     time.Time `json:"created_at"`
	Files         []File    `json:"files"`
}

// Correction is one change by hand: the whole document after it.
type Correction struct {
	ID        string          `json:"id"`
	ClipID    string          `json:"clip_id"`
	Seq       int             `json:"seq"` // from 1
	Doc       json.RawMessage `json:"doc"`
	What      string          `json:"what"` // in words
	CreatedAt time.Time       `json:"created_at"`
	Undone    bool            `json:"undone"`
}

// Comparison is a written comparison of clips of one athlete, the easiest first.
type Comparison struct {
	ID        string    `json:"id"`
	AthleteID string    `json:"athlete_id"`
	ClipIDs   []string  `json:"clip_ids"`
	CreatedAt time.Time `json:"created_at"`
	Files     []File    `json:"files"`
}

// JobState says how far a job is.
type JobState string

// The states of a job.
const (
	JobWaiting   JobState = "waiting"
	JobRunning   JobState = "running"
	JobDone      JobState = "done"
	JobFailed    JobState = "failed"
	JobCancelled JobState = "cancelled"
)

// The kinds of job, those that go first before others: somebody waits for them.
const (
	JobMeasure = "measure" // a clip that was measured already, again from its track
	JobReport  = "report"  // of a comparison
	JobAnalyze = "analyze"
	JobRender  = "render"
)

// Job is work on a clip or a comparison that waits, runs, or has ended.
type Job struct {
	ID           string          `json:"id"`
	ClipID       string          `json:"clip_id"`       // empty: of a comparison
	ComparisonID string          `json:"comparison_id"` // empty: of a clip
	Kind         string          `json:"kind"`
	State        JobState        `json:"state"`
	Options      json.RawMessage `json:"options"`
	Stage        string          `json:"stage"`
	Done         int             `json:"done"`
	Total        int             `json:"total"`
	Error        string          `json:"error"`
	Hint         string          `json:"hint"`
	Attempt      int             `json:"attempt"` // without those that the server's own end broke off
	Ends         int             `json:"ends"`    // how often the program that reads the clip ended by itself
	CreatedAt    time.Time       `json:"created_at"`
	StartedAt    *time.Time      `json:"started_at"`
	EndedAt      *time.Time      `json:"ended_at"`
}

// Deleted says what went with a deletion.
type Deleted struct {
	Athlete                                    string
	Visits, Clips, Results, Comparisons, Files int
	Uploads                                    int // that had not come whole
	Bytes                                      int64
}

// Report is what a check of the archive found.
type Report struct {
	Files, Rows int
	Problems    []string
	Notes       []string // what is no damage

	badFiles map[string]string // of the problems those with the content of files, by sum
}
