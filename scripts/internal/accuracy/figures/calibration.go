package figures

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"holdfast/models"
	"holdfast/vision/pose"
)

// PrintCalibration prints every number as measured, and as it is used where the network
// has a calibration.
func PrintCalibration(w io.Writer, c, used *models.Calibration) error {
	measured, err := numbersOf(c)
	if err != nil {
		return err
	}
	now := map[string]float64{}
	if used != nil {
		if now, err = numbersOf(used); err != nil {
			return err
		}
	}
	fmt.Fprintf(w, "What the network %s does on %s.\n\n", c.Network, c.MeasuredOn)
	t := Table(w)
	fmt.Fprintln(t, "field\tmeasured\tused")
	fields := make([]string, 0, len(measured))
	for f := range measured {
		fields = append(fields, f)
	}
	slices.Sort(fields)
	for _, f := range fields {
		use := "-"
		if v, ok := now[f]; ok {
			use = fmt.Sprintf("%g", v)
		}
		fmt.Fprintf(t, "%s\t%g\t%s\n", f, measured[f], use)
	}
	return t.Flush()
}

// numbersOf returns the numbers of a calibration by the path of their fields.
func numbersOf(c *models.Calibration) (map[string]float64, error) {
	text, err := json.Marshal(c)
	if err != nil {
		return nil, err
	}
	var loose map[string]any
	if err := json.Unmarshal(text, &loose); err != nil {
		return nil, err
	}
	out := map[string]float64{}
	var walk func(path string, v any)
	walk = func(path string, v any) {
		switch v := v.(type) {
		case float64:
			out[path] = v
		case map[string]any:
			for name, x := range v {
				walk(strings.TrimPrefix(path+"."+name, "."), x)
			}
		}
	}
	walk("", loose)
	return out, nil
}

// WriteCalibration writes a calibration whose form was checked, whole or not at all.
func WriteCalibration(path string, c *models.Calibration) error {
	text, err := json.MarshalIndent(c, "", "  ")
	if err != nil {
		return err
	}
	if _, err := models.ParseCalibration(text); err != nil {
		return fmt.Errorf("what was measured is no calibration: %w", err)
	}
	part := path + ".part"
	if err := os.WriteFile(part, append(text, '\n'), 0o644); err != nil {
		return err
	}
	return os.Rename(part, path)
}

// PassedOver says whether frames of a track were passed over: how errors go from frame to frame does not show then, and
// positions that are held count little beside those that are gone through.
func PassedOver(t *pose.Track) bool {
	return slices.ContainsFunc(t.Poses, func(p pose.Pose) bool { return p.Passed })
}

// KeepPoints gives a calibration what the one that is used says of points, which was measured on frames of which none
// was passed over, and says so.
func KeepPoints(c, used *models.Calibration) {
	c.PointOffsetsLegs, c.FootSinkLegsPerDeg, c.HeelLag = used.PointOffsetsLegs, used.FootSinkLegsPerDeg, used.HeelLag
	c.ErrorTimeS, c.WanderFloorLegs, c.WanderLegs = used.ErrorTimeS, used.WanderFloorLegs, used.WanderLegs
	c.Remarks = append(c.Remarks, "Frames were passed over: offsets, lag, error time and wander are those of the "+
		"version before, which say more of points that are seen in every frame.")
}
