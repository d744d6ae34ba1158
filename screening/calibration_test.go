package screening

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/models"
)

// heavySHA256 returns the sum of the network heavy, as its manifest states it.
func heavySHA256(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("../models/heavy.json")
	if err != nil {
		t.Fatal(err)
	}
	var m models.Manifest
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatal(err)
	}
	return m.SHA256
}

// Every number of a calibration reaches kinematics, each at its own place.
func TestPlainCalibration(t *testing.T) {
	c := &models.Calibration{}
	next := 0.0
	var fill func(v reflect.Value)
	fill = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Float64:
			next++
			v.SetFloat(next)
		case reflect.Struct:
			for i := range v.NumField() {
				fill(v.Field(i))
			}
		}
	}
	fill(reflect.ValueOf(c).Elem())
	got := map[float64]int{}
	var count func(v reflect.Value)
	count = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Float64:
			got[v.Float()]++
		case reflect.Struct:
			for i := range v.NumField() {
				count(v.Field(i))
			}
		case reflect.Array:
			for i := range v.Len() {
				count(v.Index(i))
			}
		}
	}
	plain := plainCalibration(c)
	count(reflect.ValueOf(plain))
	for v := 1.0; v <= next; v++ {
		if got[v] != 1 {
			t.Errorf("number %g of %g reaches kinematics %d times", v, next, got[v])
		}
	}
	if plain.Offsets[body.Toe].SD.UpPerRad != c.PointOffsetsLegs.Toe.SD.UpPerRad ||
		plain.Errors[body.SmootherFilter][body.HipFlexion].PostureDeg != c.AngleErrorsDeg.Filter.HipFlexion.Posture ||
		plain.Errors[body.SmootherBody][body.FootPitch].LiftedDeg != c.AngleErrorsDeg.Body.FootPitch.Lifted ||
		plain.FlatFootSDDeg != c.FootPitchSDDeg.Flat || plain.Confidence.Lost != c.Confidence.Lost {
		t.Errorf("%+v is not at its place", plain)
	}
}

// The same points are read with narrow intervals where their network is calibrated, and
// with wide ones and a warning where it is not: also where only the name is the same.
func TestNetworkWithoutCalibration(t *testing.T) {
	r := loadRendered(t, "fast_30", 1.5)
	sum := r.track.ModelSHA256
	known := r.measure(t, r.track, Options{})
	if c := known.Model.Calibration; c == nil || c.Version != 2 || c.Date == "" {
		t.Fatalf("the analysis names the calibration %+v", c)
	}
	for _, tt := range []struct{ name, network, sum string }{
		{"of no name", "", ""}, {"unknown", "mine", sum}, {"other file", "heavy", strings.Repeat("ab", 32)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			track := *r.track
			track.ModelName, track.ModelSHA256 = tt.network, tt.sum
			a := r.measure(t, &track, Options{})
			warned := false
			for _, w := range a.Warnings {
				warned = warned || w.Code == string(kinematics.NoticeUncalibrated) && strings.Contains(Say(w), "intervals are wide")
			}
			if !warned || a.Model.Calibration == nil || *a.Model.Calibration != (CalibrationInfo{}) {
				t.Errorf("calibration %+v, warnings %v", a.Model.Calibration, a.Warnings)
			}
			for i := range known.Reps {
				narrow, wide := known.Reps[i].Angles[body.KneeFlexion].ROMInterval95Deg,
					a.Reps[i].Angles[body.KneeFlexion].ROMInterval95Deg
				if !(wide[1]-wide[0] > 1.5*(narrow[1]-narrow[0])) {
					t.Errorf("rep %d: the knee's range is %v with a calibration, %v without", i+1, narrow, wide)
				}
			}
		})
	}
}

// A calibration that cannot be read is an error that names the file, no silent default.
func TestDamagedCalibration(t *testing.T) {
	r := oneRep(t)
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "heavy.calibration.json"),
		[]byte("{\n\"schema\": 1}"), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Setenv(models.FolderEnv, folder)
	if _, err := measureTrack("clip.mp4", r.info, r.track, Options{}); !errors.Is(err, models.ErrCorrupt) ||
		!strings.Contains(err.Error(), "heavy.calibration.json") {
		t.Errorf("got the error %v", err)
	}
}

// Analyses of different networks or calibrations are not compared, and a history takes those of the last visit alone;
// analyses of before calibrations were stated were read with the first of heavy.
func TestDifferentNetworks(t *testing.T) {
	by := func(network, sum string, c *CalibrationInfo) ModelInfo {
		return ModelInfo{Name: network, SHA256: sum, Calibration: c}
	}
	first, second, none := &CalibrationInfo{Version: 1}, &CalibrationInfo{Version: 2}, &CalibrationInfo{}
	tests := []struct {
		name    string
		a, b    ModelInfo
		refused string // part of the error; empty: none
		left    string // part of the warning of the history
	}{
		{"same", by("heavy", "aa", first), by("heavy", "aa", first), "", ""},
		{"old and new of heavy", by("heavy", "aa", nil), by("heavy", "aa", first), "", ""},
		{"both old", by("full", "bb", nil), by("full", "bb", nil), "", ""},
		{"old and new of full", by("full", "bb", nil), by("full", "bb", first),
			"(full, calibration 1; full, calibration 1 of heavy)",
			"with full, calibration 1 of heavy, and the last visit with full, calibration 1."},
		{"networks", by("heavy", "aa", first), by("full", "bb", first),
			"(full, calibration 1; heavy, calibration 1)",
			"with heavy, calibration 1, and the last visit with full, calibration 1."},
		{"calibrations", by("heavy", "aa", first), by("heavy", "aa", second),
			"(heavy, calibration 1; heavy, calibration 2)",
			"with heavy, calibration 1, and the last visit with heavy, calibration 2."},
		{"none and one", by("heavy", "aa", none), by("heavy", "aa", first), "heavy, not calibrated)",
			"heavy, not calibrated,"},
		{"files of one name", by("mine", "aa", none), by("mine", "cc", none), "(mine, not calibrated)",
			"mine, not calibrated,"},
	}
	refused := func(where string, err error, want string) {
		t.Helper()
		switch {
		case want == "" && err != nil:
			t.Errorf("%s: %v", where, err)
		case want != "" && (!errors.Is(err, ErrDifferentNetworks) || !strings.Contains(err.Error(), want)):
			t.Errorf("%s: got %v, want %q in it", where, err, want)
		}
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			slow := analysisOf("slow.mp4", repsOf("slow", 3, 114, 120, 28))
			fast := analysisOf("fast.mp4", repsOf("fast", 3, 99, 121, 20))
			slow.Model, fast.Model = tt.a, tt.b
			_, err := Compare([]*Analysis{slow, fast}, CompareOptions{})
			refused("comparison", err, tt.refused)
			same, retest := *fast, analysisOf("slow2.mp4", repsOf("slow", 3, 113, 121, 27))
			same.Model, retest.Model = tt.a, tt.b
			_, err = Compare([]*Analysis{slow, &same}, CompareOptions{Retest: retest})
			refused("retest", err, tt.refused)

			otherwise, left := MeasuredOtherwise([]*Analysis{slow, fast})
			said := ""
			for _, w := range left {
				said += Say(w)
			}
			if (said == "") != (tt.left == "") || !strings.Contains(said, tt.left) {
				t.Errorf("history: said %q, want %q", said, tt.left)
			}
			if otherwise[1] || otherwise[0] != (tt.left != "") {
				t.Errorf("history: leaves out %v", otherwise)
			}
		})
	}
}

func TestOutdated(t *testing.T) {
	sum := heavySHA256(t)
	now, err := models.CalibrationOf("heavy", sum)
	if err != nil || now == nil {
		t.Fatal(now, err)
	}
	fullSum, err := models.SHA256Of("full")
	if err != nil {
		t.Fatal(err)
	}
	present, other := &CalibrationInfo{Version: now.Version}, &CalibrationInfo{Version: now.Version + 1}
	for _, tt := range []struct {
		name              string
		program           string
		model             ModelInfo
		outdated, retrack bool
	}{
		{"made now", Program, ModelInfo{"heavy", sum, "", present}, false, false},
		{"by another version", "holdfast 0.1", ModelInfo{"heavy", sum, "", present}, true, false},
		{"by 0.1", "holdfast 0.1", ModelInfo{"heavy", sum, "", nil}, true, false},
		{"with another calibration", Program, ModelInfo{"heavy", sum, "", other}, true, false},
		{"with another network of the name", Program, ModelInfo{"heavy", strings.Repeat("0", 64), "", present}, true, true},
		{"with another network than is used", Program, ModelInfo{"full", fullSum, "", present}, true, true},
		{"with a network that is not here", "holdfast 0.1", ModelInfo{"mine", sum, "", nil}, false, false},
		{"without a network", Program, ModelInfo{}, false, false},
	} {
		a := &Analysis{Program: tt.program, Model: tt.model}
		outdated, retrack, err := a.Outdated("heavy")
		if err != nil || outdated != tt.outdated || retrack != tt.retrack {
			t.Errorf("%s: %v, %v, %v, want %v, %v", tt.name, outdated, retrack, err, tt.outdated, tt.retrack)
		}
	}
}

// A network that places no feet says so once, and does not tell the coach to film them.
func TestNetworkWithoutFeetIsToldOnce(t *testing.T) {
	r := loadRendered(t, "fast_30", 1.5)
	track := *r.track
	track.KeypointNames, track.Poses = nil, slices.Clone(r.track.Poses)
	for i := range track.Poses {
		track.Poses[i].Keypoints = nil
	}
	for k, name := range r.track.KeypointNames {
		if strings.HasSuffix(name, "_heel") || strings.HasSuffix(name, "_foot_index") {
			continue
		}
		track.KeypointNames = append(track.KeypointNames, name)
		for i := range track.Poses {
			if r.track.Poses[i].Found {
				track.Poses[i].Keypoints = append(track.Poses[i].Keypoints, r.track.Poses[i].Keypoints[k])
			}
		}
	}
	a := r.measure(t, &track, Options{})
	var told []string
	for _, w := range a.Warnings {
		if strings.Contains(Say(w), "ankle") || strings.Contains(Say(w), "foot") {
			told = append(told, w.Code)
		}
	}
	if !slices.Equal(told, []string{string(kinematics.NoticeNoFeet)}) {
		t.Errorf("warnings of the feet: %v", told)
	}
	for _, rep := range a.Reps {
		if !math.IsNaN(rep.Angles[body.AnkleDorsiflexion].ROMDeg) || math.IsNaN(rep.Angles[body.KneeFlexion].ROMDeg) ||
			strings.Contains(Say(rep.Quality.Advice), "heel") {
			t.Errorf("rep %d: ankle %g, knee %g, advice %v", rep.Number, rep.Angles[body.AnkleDorsiflexion].ROMDeg,
				rep.Angles[body.KneeFlexion].ROMDeg, rep.Quality.Advice)
		}
	}
}
