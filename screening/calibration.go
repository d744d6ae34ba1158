package screening

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
	"holdfast/models"
	"holdfast/vision"
	"holdfast/vision/pose"
)

// CalibrationInfo says which calibration of the network the numbers rest on.
type CalibrationInfo struct {
	// Version counts the calibrations of the network from 1; 0: the network has none, and
	// the intervals are wide.
	Version int `json:"version"`
	// Date is the day it was measured, YYYY-MM-DD; empty without one.
	Date string `json:"date"`
}

// calibrationOf returns what was settled for the network that made a track, and which
// calibration that is. Of a network without one nothing is known: the zero value.
func calibrationOf(track *pose.Track) (body.Calibration, CalibrationInfo, error) {
	c, err := models.CalibrationOf(track.ModelName, track.ModelSHA256)
	if err != nil || c == nil {
		return body.Calibration{}, CalibrationInfo{}, err
	}
	return plainCalibration(c), CalibrationInfo{Version: c.Version, Date: c.Date}, nil
}

// plainCalibration returns a calibration as kinematics takes it.
func plainCalibration(c *models.Calibration) body.Calibration {
	out := body.Calibration{
		HeelLag: c.HeelLag, HeelLagToDeg: c.HeelLagToDeg, FootSinkLegsPerDeg: c.FootSinkLegsPerDeg,
		ErrorTimeS: c.ErrorTimeS, WanderFloorLegs: c.WanderFloorLegs, WanderLegs: c.WanderLegs,
		FlatFootSDDeg: c.FootPitchSDDeg.Flat, LiftedFootSDDeg: c.FootPitchSDDeg.Lifted, AirFootSDDeg: c.FootPitchSDDeg.Air,
		ViewSDDeg: c.ViewSDDeg, Confidence: body.ConfidenceLimits(c.Confidence),
	}
	points, angles := map[string]body.PointOffset{}, [2]map[string]body.AngleError{{}, {}}
	for name, o := range c.PointOffsetsLegs.All() {
		points[name] = body.PointOffset{Mean: body.Displacement(o.Mean), SD: body.Displacement(o.SD)}
	}
	for p := range body.NumLandmarks {
		out.Offsets[p] = points[p.String()]
	}
	for smoother, of := range map[body.Smoother]*models.ByAngle{
		body.SmootherBody: &c.AngleErrorsDeg.Body, body.SmootherFilter: &c.AngleErrorsDeg.Filter,
	} {
		for name, e := range of.All() {
			angles[smoother][name] = body.AngleError{ClipDeg: e.Clip, PostureDeg: e.Posture, LiftedDeg: e.Lifted, RepDeg: e.Rep}
		}
		for a := range body.NumAngles {
			out.Errors[smoother][a] = angles[smoother][a.String()]
		}
	}
	return out
}

// measuredBy names network and calibration of an analysis.
func (m *ModelInfo) measuredBy() kinematics.Notice {
	switch {
	case m.Calibration == nil:
		// Until results said which, all networks were read with the first of heavy.
		if m.Name == "heavy" {
			return notice.New("network_calibrated", notice.Params{"network": m.Name, "calibration": 1})
		}
		return notice.New("network_calibrated_by_other", notice.Params{"network": m.Name, "calibration": 1, "other": "heavy"})
	case m.Calibration.Version == 0:
		return notice.New("network_not_calibrated", notice.Params{"network": m.Name})
	}
	return notice.New("network_calibrated", notice.Params{"network": m.Name, "calibration": m.Calibration.Version})
}

// comparable names what two analyses must have alike to be compared: network and calibration.
func (m *ModelInfo) comparable() string {
	by := m.measuredBy()
	return fmt.Sprintln(m.SHA256, m.Name, by.Code, by.Params["calibration"])
}

// differentNetworks returns an error that wraps ErrDifferentNetworks when analyses that are to be compared rest on
// different networks or calibrations of one: what those differ by would look like a change.
func differentNetworks(analyses []*Analysis) error {
	first := analyses[0].Model.comparable()
	if !slices.ContainsFunc(analyses, func(a *Analysis) bool { return a.Model.comparable() != first }) {
		return nil
	}
	return &refusal{ErrDifferentNetworks, networksOf(analyses)}
}

// networksOf names the networks of analyses, each once.
func networksOf(analyses []*Analysis) []kinematics.Notice {
	named := map[string]kinematics.Notice{}
	for _, a := range analyses {
		by := a.Model.measuredBy()
		named[fmt.Sprintln(a.Model.Name, by.Code, by.Params["calibration"])] = by
	}
	var networks []kinematics.Notice
	for _, key := range slices.Sorted(maps.Keys(named)) {
		networks = append(networks, named[key])
	}
	return networks
}

// MeasuredOtherwise says which of analyses rest on another network or calibration than the last of them, so that
// nothing may be said of one against the other, and warns of that.
func MeasuredOtherwise(all []*Analysis) (otherwise []bool, warning []Warning) {
	if len(all) == 0 {
		return nil, nil
	}
	last := all[len(all)-1].Model
	var others []*Analysis
	for _, a := range all {
		other := a.Model.comparable() != last.comparable()
		if otherwise = append(otherwise, other); other {
			others = append(others, a)
		}
	}
	if len(others) == 0 {
		return otherwise, nil
	}
	return otherwise, notice.List("measured_otherwise", notice.Params{
		"n": len(others), "others": paramsOf(networksOf(others)), "now": last.measuredBy().Plain(),
	})
}

// Outdated says whether an analysis was made by another version of the program, or rests on another network or
// calibration, than one that is made now with the model (empty: the default); and retrack whether the network is
// another one, so that its track is outdated too. Of a network that is no longer there nothing is outdated.
func (a *Analysis) Outdated(model string) (outdated, retrack bool, err error) {
	sum, err := models.SHA256Of(a.Model.Name)
	if errors.Is(err, models.ErrUnknown) {
		return false, false, nil
	}
	if err != nil {
		return false, false, err
	}
	if sum != a.Model.SHA256 || a.Model.Name != cmp.Or(model, vision.DefaultModel) {
		return true, true, nil
	}
	now, err := models.CalibrationOf(a.Model.Name, sum)
	if err != nil {
		return false, false, err
	}
	present := ModelInfo{Name: a.Model.Name, SHA256: sum, Calibration: &CalibrationInfo{}}
	if now != nil {
		present.Calibration.Version = now.Version
	}
	return a.Program != Program || a.Model.comparable() != present.comparable(), false, nil
}
