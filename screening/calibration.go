package screening

import (
	"fmt"
	"slices"
	"strings"

	"holdfast/kinematics/body"
	"holdfast/models"
	"holdfast/vision"
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
func calibrationOf(track *vision.Track) (body.Calibration, CalibrationInfo, error) {
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
			angles[smoother][name] = body.AngleError{ClipDeg: e.Clip, PostureDeg: e.Posture, LiftedDeg: e.Lifted}
		}
		for a := range body.NumAngles {
			out.Errors[smoother][a] = angles[smoother][a.String()]
		}
	}
	return out
}

// measuredBy names network and calibration of an analysis in few words.
func (m *ModelInfo) measuredBy() string {
	switch {
	case m.Calibration == nil:
		// Until results said which, all networks were read with the first of heavy.
		if m.Name == "heavy" {
			return "heavy, calibration 1"
		}
		return m.Name + ", calibration 1 of heavy"
	case m.Calibration.Version == 0:
		return m.Name + ", not calibrated"
	}
	return fmt.Sprintf("%s, calibration %d", m.Name, m.Calibration.Version)
}

// differentNetworks returns a warning when analyses that are to be compared rest on
// different networks or calibrations of one, else none.
func differentNetworks(analyses []*Analysis) []Warning {
	seen := map[string]bool{}
	var by []string
	for _, a := range analyses {
		key := a.Model.SHA256 + " " + a.Model.measuredBy()
		if !seen[key] {
			seen[key] = true
			by = append(by, a.Model.measuredBy())
		}
	}
	if len(seen) < 2 {
		return nil
	}
	slices.Sort(by)
	return []Warning{{Code: "different_networks", Message: "The clips were measured with different networks or calibrations (" +
		strings.Join(slices.Compact(by), "; ") + "): what differs between those may look like a change. Measure all clips again with one."}}
}
