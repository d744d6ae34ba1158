package models

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"slices"
	"strings"
	"time"

	"holdfast/words"
)

// CalibrationSchema is the name written into a calibration file.
const CalibrationSchema = "holdfast/calibration/1"

// Calibration is what was settled for one network: where it puts its points and how
// large its errors are. It lies beside the manifest as NAME.calibration.json. Lengths are
// leg lengths (thigh plus shank), angles degrees; kinematics.Calibration says what each
// number means.
type Calibration struct {
	Schema  string `json:"schema"`
	Network string `json:"network"`
	// NetworkSHA256 is the sum of what was measured, see [SHA256Of]: another network of
	// the same name has no calibration.
	NetworkSHA256 string `json:"network_sha256"`
	// Version counts the calibrations of the network from 1: results state it.
	Version int `json:"version"`
	// Date is the day of the measurement, YYYY-MM-DD; MeasuredOn says on what.
	Date       string `json:"date"`
	MeasuredOn string `json:"measured_on"`
	// Remarks say how each number was got, and what was found and not used.
	Remarks []string `json:"remarks"`

	PointOffsetsLegs   ByPoint          `json:"point_offsets_legs"`
	HeelLag            float64          `json:"heel_lag"`
	HeelLagToDeg       float64          `json:"heel_lag_to_deg"`
	FootSinkLegsPerDeg float64          `json:"foot_sink_legs_per_deg"`
	ErrorTimeS         float64          `json:"error_time_s"`
	WanderFloorLegs    float64          `json:"wander_floor_legs"`
	WanderLegs         float64          `json:"wander_legs"`
	AngleErrorsDeg     BySmoother       `json:"angle_errors_deg"`
	FootPitchSDDeg     FootPitchSDs     `json:"foot_pitch_sd_deg"`
	ViewSDDeg          float64          `json:"view_sd_deg"`
	Confidence         ConfidenceLimits `json:"confidence"`
}

// ByPoint holds an offset for each point that a body is fitted to.
type ByPoint struct {
	Shoulder PointOffset `json:"shoulder"`
	Hip      PointOffset `json:"hip"`
	Knee     PointOffset `json:"knee"`
	Ankle    PointOffset `json:"ankle"`
	Heel     PointOffset `json:"heel"`
	Toe      PointOffset `json:"toe"`
}

// All yields the offsets with the names of their points.
func (p *ByPoint) All() iter.Seq2[string, *PointOffset] {
	return func(yield func(string, *PointOffset) bool) {
		_ = yield("shoulder", &p.Shoulder) && yield("hip", &p.Hip) && yield("knee", &p.Knee) &&
			yield("ankle", &p.Ankle) && yield("heel", &p.Heel) && yield("toe", &p.Toe)
	}
}

// PointOffset is how far beside its joint a point lies: the mean, and by how much
// athletes differ.
type PointOffset struct {
	Mean Displacement `json:"mean"`
	SD   Displacement `json:"sd"`
}

// Displacement is a way forward and up in every posture, and so much more for each
// radian of knee flexion.
type Displacement struct {
	Fwd       float64 `json:"fwd"`
	Up        float64 `json:"up"`
	FwdPerRad float64 `json:"fwd_per_rad"`
	UpPerRad  float64 `json:"up_per_rad"`
}

// BySmoother holds the errors of the angles by how points are smoothed.
type BySmoother struct {
	Body   ByAngle `json:"body"`
	Filter ByAngle `json:"filter"`
}

// ByAngle holds the error of each angle's range of motion.
type ByAngle struct {
	KneeFlexion       AngleError `json:"knee_flexion"`
	HipFlexion        AngleError `json:"hip_flexion"`
	AnkleDorsiflexion AngleError `json:"ankle_dorsiflexion"`
	ShankAngle        AngleError `json:"shank_angle"`
	TrunkLean         AngleError `json:"trunk_lean"`
	ThighAngle        AngleError `json:"thigh_angle"`
	FootPitch         AngleError `json:"foot_pitch"`
}

// All yields the errors with the names of their angles.
func (a *ByAngle) All() iter.Seq2[string, *AngleError] {
	return func(yield func(string, *AngleError) bool) {
		_ = yield("knee_flexion", &a.KneeFlexion) && yield("hip_flexion", &a.HipFlexion) &&
			yield("ankle_dorsiflexion", &a.AnkleDorsiflexion) && yield("shank_angle", &a.ShankAngle) &&
			yield("trunk_lean", &a.TrunkLean) && yield("thigh_angle", &a.ThighAngle) && yield("foot_pitch", &a.FootPitch)
	}
}

// AngleError holds standard deviations: of what all tempos of an athlete share, of what
// differs between positions, of that with the heel up (0: no other), and of what a single rep
// has beside the noise of its points.
type AngleError struct {
	Clip    float64 `json:"clip"`
	Posture float64 `json:"posture"`
	Lifted  float64 `json:"lifted"`
	Rep     float64 `json:"rep"`
}

// FootPitchSDs are the standard deviations of the pitch of a foot.
type FootPitchSDs struct {
	Flat   float64 `json:"flat"`
	Lifted float64 `json:"lifted"`
	Air    float64 `json:"air"`
}

// ConfidenceLimits are confidences from 0 to 1, the highest first.
type ConfidenceLimits struct {
	Good float64 `json:"good"`
	Low  float64 `json:"low"`
	Lost float64 `json:"lost"`
}

// CalibrationOf returns the calibration of the network, or pair of networks, whose name and
// SHA-256 (see [SHA256Of]) are given, from the folder named by FolderEnv when it is there, otherwise the
// built-in one; nil when the network has none. An error wraps ErrCorrupt when a
// calibration of that name cannot be understood, or is one of reading the file.
func CalibrationOf(name, sha256 string) (*Calibration, error) {
	if !validModel(name) {
		return nil, nil
	}
	for _, folder := range folders() {
		file := name + calibrationSuffix
		data, err := fs.ReadFile(folder, file)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, calibrating(name, err)
		}
		c, err := ParseCalibration(data)
		if err == nil && c.Network != name {
			err = fmt.Errorf("it is that of %q", c.Network)
		}
		if err != nil {
			return nil, calibrating(name, fmt.Errorf("%w: %s: %w", ErrCorrupt, file, err))
		}
		if c.NetworkSHA256 == sha256 {
			return c, nil
		}
	}
	return nil, nil
}

// calibrating says which network's calibration an error is about.
func calibrating(name string, err error) error {
	return words.Instead(err, "loading_calibration", words.Params{"name": name, "error": err.Error()})
}

const calibrationSuffix = ".calibration.json"

// ParseCalibration reads and checks a calibration. Every field must be there once, and no
// other; each error names the line and the field.
func ParseCalibration(data []byte) (*Calibration, error) {
	var c Calibration
	lines, err := fieldLines(data)
	if err != nil {
		return nil, err
	}
	template, err := json.Marshal(Calibration{Remarks: []string{""}})
	if err != nil {
		return nil, err
	}
	known, err := fieldLines(template)
	if err != nil {
		return nil, err
	}
	var wrong []error
	for _, field := range sortedByLine(lines) {
		if _, ok := known[field]; !ok {
			wrong = append(wrong, fmt.Errorf("line %d: %s: no such field", lines[field], field))
		}
	}
	for _, field := range sortedByLine(known) {
		if _, ok := lines[field]; !ok && !strings.HasSuffix(field, "[]") {
			wrong = append(wrong, fmt.Errorf("%s: missing", field))
		}
	}
	if len(wrong) > 0 {
		return nil, errors.Join(wrong...)
	}
	if err := json.Unmarshal(data, &c); err != nil {
		var mismatch *json.UnmarshalTypeError
		if errors.As(err, &mismatch) {
			return nil, fmt.Errorf("line %d: %s: want a %s", lineAt(data, mismatch.Offset), mismatch.Field, mismatch.Type)
		}
		return nil, err
	}
	for _, bad := range c.check() {
		wrong = append(wrong, fmt.Errorf("line %d: %s: %s", lines[bad.field], bad.field, bad.what))
	}
	if len(wrong) > 0 {
		return nil, errors.Join(wrong...)
	}
	return &c, nil
}

// fieldLines returns the line of every field of a JSON object, by its path: the names
// that lead to it, joined by dots, [] for any element of a list.
func fieldLines(data []byte) (map[string]int, error) {
	decoder := json.NewDecoder(bytes.NewReader(data))
	lines := map[string]int{}
	var read func(path string) error
	read = func(path string) error {
		token, err := decoder.Token()
		if err != nil {
			return err
		}
		switch token {
		case json.Delim('{'):
			for decoder.More() {
				name, err := decoder.Token()
				if err != nil {
					return err
				}
				field := strings.TrimPrefix(fmt.Sprintf("%s.%s", path, name), ".")
				line := lineAt(data, decoder.InputOffset())
				if _, twice := lines[field]; twice && !strings.Contains(field, "[]") {
					return fmt.Errorf("line %d: %s: twice there", line, field)
				}
				lines[field] = line
				if err := read(field); err != nil {
					return err
				}
			}
			_, err = decoder.Token()
		case json.Delim('['):
			lines[path+"[]"] = lineAt(data, decoder.InputOffset())
			for decoder.More() {
				if err := read(path + "[]"); err != nil {
					return err
				}
			}
			_, err = decoder.Token()
		case nil:
			// encoding/json would take it for the zero value.
			err = fmt.Errorf("line %d: %s: null", lineAt(data, decoder.InputOffset()), path)
		}
		return err
	}
	err := read("")
	if err == nil {
		if _, more := decoder.Token(); !errors.Is(more, io.EOF) {
			err = fmt.Errorf("line %d: something follows its end", lineAt(data, decoder.InputOffset()))
		}
	}
	var syntax *json.SyntaxError
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return nil, fmt.Errorf("line %d: it ends too early", lineAt(data, int64(len(data))))
	case errors.As(err, &syntax):
		return nil, fmt.Errorf("line %d: %w", lineAt(data, syntax.Offset), err)
	}
	return lines, err
}

func lineAt(data []byte, offset int64) int {
	return 1 + bytes.Count(data[:min(offset, int64(len(data)))], []byte("\n"))
}

func sortedByLine(lines map[string]int) []string {
	fields := make([]string, 0, len(lines))
	for f := range lines {
		fields = append(fields, f)
	}
	slices.SortFunc(fields, func(a, b string) int {
		if lines[a] != lines[b] {
			return lines[a] - lines[b]
		}
		return strings.Compare(a, b)
	})
	return fields
}

// badField is a field whose value cannot be.
type badField struct{ field, what string }

// Bounds that no pose network comes near; they keep a slip of the pen from passing.
const (
	mostOffsetLegs = 0.3
	mostErrorDeg   = 45
)

// check returns the fields whose values cannot be.
func (c *Calibration) check() []badField {
	var wrong []badField
	bad := func(field, format string, args ...any) {
		wrong = append(wrong, badField{field, fmt.Sprintf(format, args...)})
	}
	within := func(field string, v, least, most float64) {
		if !(v >= least && v <= most) {
			bad(field, "%g is out of range, want %g to %g", v, least, most)
		}
	}
	if c.Schema != CalibrationSchema {
		bad("schema", "%q, want %q", c.Schema, CalibrationSchema)
	}
	if !validModel(c.Network) {
		bad("network", "%q: want lower-case letters, digits, - and _, of a pair with + between", c.Network)
	}
	if !validSum(c.NetworkSHA256) {
		bad("network_sha256", "want 64 lower-case hexadecimal digits")
	}
	if c.Version < 1 {
		bad("version", "%d, want 1 or more", c.Version)
	}
	if _, err := time.Parse(time.DateOnly, c.Date); err != nil {
		bad("date", "%q, want a day such as 2026-01-31", c.Date)
	}
	if strings.TrimSpace(c.MeasuredOn) == "" {
		bad("measured_on", "empty")
	}
	for name, o := range c.PointOffsetsLegs.All() {
		for _, d := range []struct {
			part  string
			of    *Displacement
			least float64
		}{{"mean", &o.Mean, -mostOffsetLegs}, {"sd", &o.SD, 0}} {
			field := "point_offsets_legs." + name + "." + d.part + "."
			within(field+"fwd", d.of.Fwd, d.least, mostOffsetLegs)
			within(field+"up", d.of.Up, d.least, mostOffsetLegs)
			within(field+"fwd_per_rad", d.of.FwdPerRad, d.least, mostOffsetLegs)
			within(field+"up_per_rad", d.of.UpPerRad, d.least, mostOffsetLegs)
		}
	}
	within("heel_lag", c.HeelLag, 0, 0.9)
	within("heel_lag_to_deg", c.HeelLagToDeg, 0, 90)
	within("foot_sink_legs_per_deg", c.FootSinkLegsPerDeg, 0, 0.02)
	within("error_time_s", c.ErrorTimeS, 0.01, 2)
	within("wander_floor_legs", c.WanderFloorLegs, 1e-5, 0.1)
	within("wander_legs", c.WanderLegs, 1e-5, 0.1)
	for _, smoother := range []struct {
		name string
		of   *ByAngle
	}{{"body", &c.AngleErrorsDeg.Body}, {"filter", &c.AngleErrorsDeg.Filter}} {
		for angle, e := range smoother.of.All() {
			field := "angle_errors_deg." + smoother.name + "." + angle + "."
			within(field+"clip", e.Clip, 0, mostErrorDeg)
			within(field+"posture", e.Posture, 0.1, mostErrorDeg)
			within(field+"lifted", e.Lifted, 0, mostErrorDeg)
			within(field+"rep", e.Rep, 0, mostErrorDeg)
		}
	}
	within("foot_pitch_sd_deg.flat", c.FootPitchSDDeg.Flat, 0.1, mostErrorDeg)
	within("foot_pitch_sd_deg.lifted", c.FootPitchSDDeg.Lifted, c.FootPitchSDDeg.Flat, mostErrorDeg)
	within("foot_pitch_sd_deg.air", c.FootPitchSDDeg.Air, 0.1, mostErrorDeg)
	within("view_sd_deg", c.ViewSDDeg, 0.1, mostErrorDeg)
	within("confidence.good", c.Confidence.Good, c.Confidence.Low, 1)
	within("confidence.low", c.Confidence.Low, c.Confidence.Lost, 1)
	within("confidence.lost", c.Confidence.Lost, 0, 1)
	return wrong
}
