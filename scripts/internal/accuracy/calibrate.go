package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat"

	"holdfast/kinematics/body"
	"holdfast/models"
	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

const (
	// heelUpM: from this true rise on the heel counts as up, below flatM as flat.
	heelUpM, flatM = 0.01, 0.001
	// heldS is how long a position must be held for its error to be told from noise.
	heldS = 0.3
	// leastOffsetSDLegs bounds the spread of an offset: two bodies say little of a third.
	leastOffsetSDLegs = 0.006
	// allowance is added to wander and errors of angles for the same reason, as a part.
	allowance = 0.25
)

// inTruth and inTrack are the names of a point, an angle there where they differ.
var (
	inTruth = map[string]string{"toe": "big_toe", "shank_angle": "shank_tilt", "thigh_angle": "thigh_tilt"}
	inTrack = map[string]string{"toe": "foot_index"}
)

func named(names map[string]string, name string) string {
	if other, ok := names[name]; ok {
		return other
	}
	return name
}

// seen is one clip whose truth is known, as a network saw it.
type seen struct {
	name  string
	clip  *media.Clip
	track *pose.Track
	truth *truth
}

// body tells the two athletes of the clips apart.
func (s *seen) body() string { return s.truth.Facing }

// calibrate measures a network on the rendered clips and prints what it finds beside what
// is used. With write it becomes the network's calibration.
func calibrate(ctx context.Context, w io.Writer, names []string, network, folder, tracks string, write bool) error {
	var clips []*seen
	for _, name := range names {
		c, err := seeClip(ctx, network, filepath.Join(folder, name+".mp4"), tracks)
		if err != nil {
			return err
		}
		clips = append(clips, c)
	}
	sum := clips[0].track.ModelSHA256
	used, err := models.CalibrationOf(network, sum)
	if err != nil {
		return err
	}
	c := models.Calibration{
		Schema: models.CalibrationSchema, Network: network, NetworkSHA256: sum, Version: 1,
		Date: time.Now().Format(time.DateOnly),
		MeasuredOn: fmt.Sprintf("%d clips of %s: two rendered bodies, squats slow, fast and with jumps, 30 to 120 "+
			"frames a second", len(clips), folder),
		Remarks: []string{
			"Measured by scripts/calibrate.",
			"Offsets: half of the smaller one of the two bodies where both lie to one side, else 0; the spread is half of " +
				"what the bodies differ by, and at least 0.006.",
			"Angle errors: the root mean square over the clips of the error of a clip's mean range is clip and posture " +
				"together, that of the difference between two tempos of an athlete, over the square root of 2, posture alone; " +
				"lifted is that of the reps whose heel comes up. A quarter is added to these and to the wander, because two " +
				"bodies say little of a third.",
			"Heel lag: in fast squats, the smaller one of the two bodies'.",
			"Error time: from the autocorrelation from frame to frame in held positions.",
			"View: clips of turned athletes are not among these. 4 degrees is what squats turned by 0 to 45 degrees were read " +
				"off by with two networks.",
			"Confidence limits: common practice, no source.",
		},
		HeelLagToDeg: 12, ViewSDDeg: 4, Confidence: models.ConfidenceLimits{Good: 0.7, Low: 0.5, Lost: 0.3},
	}
	if used != nil {
		c.Version, c.HeelLagToDeg = used.Version+1, used.HeelLagToDeg
		c.ViewSDDeg, c.Confidence = used.ViewSDDeg, used.Confidence
	}
	measurePoints(&c, clips)
	// The errors of angles are those of the fit with the offsets that are used.
	under := c
	if used != nil && !write {
		under = *used
	}
	if err := measureAngles(&c, under, clips); err != nil {
		return err
	}
	if err := printCalibration(w, &c, used); err != nil {
		return err
	}
	if !write {
		return nil
	}
	path := filepath.Join("models", network+".calibration.json")
	if err := writeCalibration(path, &c); err != nil {
		return fmt.Errorf("keeping the calibration: %w", err)
	}
	fmt.Fprintf(w, "\nWritten to %s.\n", path)
	return nil
}

func seeClip(ctx context.Context, network, path, tracks string) (*seen, error) {
	s := &seen{name: strings.TrimSuffix(filepath.Base(path), ".mp4")}
	var err error
	if s.truth, err = readTruth(strings.TrimSuffix(path, ".mp4") + ".json"); err != nil {
		return nil, err
	}
	if s.clip, err = media.Open(ctx, path); err != nil {
		return nil, err
	}
	if _, s.track, err = analysis(ctx, s.clip, tracks, screening.Options{Model: network}); err != nil {
		return nil, err
	}
	if s.track.ModelName != network {
		return nil, fmt.Errorf("the track of %s is that of the network %s, not %s", s.name, s.track.ModelName, network)
	}
	return s, nil
}

// beside is how far the network put a point of the near side from the joint in one frame,
// forward and up in leg lengths; NaN where it is not known.
type beside struct{ fwd, up float64 }

func (s *seen) beside(i int, point string, legPx float64) beside {
	k := s.track.KeypointIndex(s.truth.Near + "_" + named(inTrack, point))
	p := &s.track.Poses[i]
	at, ok := s.truth.Frames[i].Points[s.truth.Near+"_"+named(inTruth, point)]
	if !ok || k < 0 || !p.Found {
		return beside{math.NaN(), math.NaN()}
	}
	q := p.Keypoints[k]
	return beside{s.truth.sign() * (q.X - at[0]) / legPx, (at[1] - q.Y) / legPx}
}

// frames is how many frames both track and truth have.
func (s *seen) frames() int { return min(len(s.track.Poses), len(s.truth.Frames)) }

func (s *seen) legPx() float64 {
	var lengths []float64
	for i := range s.frames() {
		at := func(point string) [2]float64 { return s.truth.Frames[i].Points[s.truth.Near+"_"+point] }
		h, k, a := at("hip"), at("knee"), at("ankle")
		lengths = append(lengths, math.Hypot(h[0]-k[0], h[1]-k[1])+math.Hypot(k[0]-a[0], k[1]-a[1]))
	}
	return quantileOf(lengths, 0.7)
}

func quantileOf(x []float64, p float64) float64 {
	x = slices.Clone(x)
	slices.Sort(x)
	return stat.Quantile(p, stat.Empirical, x, nil)
}

// held returns the spans of frames, from and to exclusive, in which a position is held.
func (s *seen) held() (spans [][2]int) {
	from := 0
	for i := 0; i <= s.frames(); i++ {
		if i < s.frames() && s.truth.Frames[i].Phase == s.truth.Frames[from].Phase {
			continue
		}
		phase := s.truth.Frames[from].Phase
		if (phase == "stand" || phase == "hold") && s.truth.Frames[i-1].TimeS-s.truth.Frames[from].TimeS >= heldS {
			spans = append(spans, [2]int{from, i})
		}
		from = i
	}
	return spans
}

// measurePoints fills in what the points show by themselves.
func measurePoints(c *models.Calibration, clips []*seen) {
	var errorTimes, wanders []float64
	floor := math.Inf(1)
	for name, o := range c.PointOffsetsLegs.All() {
		foot := name == "ankle" || name == "heel" || name == "toe"
		fits := map[string][2]line{}
		sinks := map[string]line{}
		for body, of := range byBody(clips) {
			var bend, fwd, up, lean []float64
			for _, s := range of {
				leg := s.legPx()
				for i := range s.frames() {
					f := &s.truth.Frames[i]
					d := s.beside(i, name, leg)
					if math.IsNaN(d.fwd) || f.Phase == "flight" || foot && f.HeelRiseM > flatM {
						continue
					}
					bend, lean = append(bend, f.Angles["knee_flexion"]*math.Pi/180), append(lean, f.Angles["shank_tilt"])
					fwd, up = append(fwd, d.fwd), append(up, d.up)
				}
			}
			fits[body] = [2]line{lineThrough(bend, fwd), lineThrough(bend, up)}
			sinks[body] = lineThrough(lean, up)
		}
		var a, b [2]line
		for _, f := range fits {
			a, b = b, f
		}
		o.Mean.Fwd, o.SD.Fwd = shared(a[0].level, b[0].level)
		o.Mean.Up, o.SD.Up = shared(a[1].level, b[1].level)
		o.Mean.FwdPerRad, o.SD.FwdPerRad = shared(a[0].slope, b[0].slope)
		o.Mean.UpPerRad, o.SD.UpPerRad = shared(a[1].slope, b[1].slope)
		if name == "heel" || name == "ankle" {
			for _, l := range sinks {
				c.FootSinkLegsPerDeg = math.Max(c.FootSinkLegsPerDeg, rounded(-l.slope, 5))
			}
		}
		for _, s := range clips {
			leg, fit := s.legPx(), fits[s.body()]
			rest := func(i int) [2]float64 {
				d, bend := s.beside(i, name, leg), s.truth.Frames[i].Angles["knee_flexion"]*math.Pi/180
				return [2]float64{d.fwd - fit[0].at(bend), d.up - fit[1].at(bend)}
			}
			for axis := range 2 {
				var all, next, ms float64
				for _, span := range s.held() {
					var x []float64
					for i := span[0]; i < span[1]; i++ {
						if v := rest(i)[axis]; !math.IsNaN(v) {
							x = append(x, v)
						}
					}
					if len(x) < 5 {
						continue
					}
					mean, sd := stat.MeanStdDev(x, nil)
					ms = math.Max(ms, sd)
					wanders = append(wanders, mean)
					for i := range x {
						all += (x[i] - mean) * (x[i] - mean)
						if i > 0 {
							next += (x[i] - mean) * (x[i-1] - mean)
						}
					}
				}
				if all > 0 && next > 0 {
					errorTimes = append(errorTimes, -1/(float64(s.clip.FrameRateHz)*math.Log(next/all)))
				}
				if ms > 0 {
					floor = math.Min(floor, ms)
				}
			}
		}
	}
	c.ErrorTimeS = rounded(quantileOf(errorTimes, 0.5), 3)
	c.WanderFloorLegs, c.WanderLegs = rounded(floor, 4), rounded((1+allowance)*rms(wanders), 4)
	c.HeelLag = heelLag(clips)
}

func byBody(clips []*seen) map[string][]*seen {
	out := map[string][]*seen{}
	for _, s := range clips {
		out[s.body()] = append(out[s.body()], s)
	}
	return out
}

// shared returns what two bodies have in common and by how much they differ.
func shared(a, b float64) (mean, sd float64) {
	if a*b > 0 {
		mean = math.Copysign(math.Min(math.Abs(a), math.Abs(b))/2, a)
	}
	return rounded(mean, 4), rounded(math.Max(leastOffsetSDLegs, math.Abs(a-b)/2), 4)
}

// heelLag returns the part of the true rise of a heel on the floor that its point does not
// show, the smaller of the two bodies'.
func heelLag(clips []*seen) float64 {
	least := 0.9
	for _, of := range byBody(clips) {
		var shown, risen float64
		for _, s := range of {
			k := s.track.KeypointIndex(s.truth.Near + "_heel")
			var level []float64
			for i := range s.frames() {
				if f := &s.truth.Frames[i]; f.HeelRiseM <= flatM && f.Phase != "flight" && s.track.Poses[i].Found {
					level = append(level, s.track.Poses[i].Keypoints[k].Y)
				}
			}
			for i := range s.frames() {
				if f := &s.truth.Frames[i]; f.HeelRiseM > heelUpM && f.Phase != "flight" && s.track.Poses[i].Found &&
					tempoOf(s.name) == "fast" {
					up := (quantileOf(level, 0.5) - s.track.Poses[i].Keypoints[k].Y) * s.truth.Camera.metresPerPx()
					shown, risen = shown+up*f.HeelRiseM, risen+f.HeelRiseM*f.HeelRiseM
				}
			}
		}
		if risen > 0 {
			least = math.Min(least, 1-shown/risen)
		}
	}
	return rounded(math.Max(0, least), 2)
}

// line is a straight line.
type line struct{ level, slope float64 }

func (l line) at(x float64) float64 { return l.level + l.slope*x }

func lineThrough(x, y []float64) line {
	if len(x) < 3 {
		return line{}
	}
	level, slope := stat.LinearRegression(x, y, nil, false)
	return line{level, slope}
}

func rms(x []float64) float64 {
	var s float64
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s / float64(max(1, len(x))))
}

func rounded(v float64, digits int) float64 {
	k := math.Pow10(digits)
	return math.Round(v*k)/k + 0
}

// measureAngles fills in the errors of the angles as the program finds them under a
// calibration.
func measureAngles(c *models.Calibration, under models.Calibration, clips []*seen) error {
	for _, by := range []*models.ByAngle{&under.AngleErrorsDeg.Body, &under.AngleErrorsDeg.Filter} {
		for _, e := range by.All() {
			e.Posture = math.Max(e.Posture, 1)
		}
	}
	under.FootPitchSDDeg = models.FootPitchSDs{Flat: math.Max(under.FootPitchSDDeg.Flat, 1),
		Lifted: math.Max(under.FootPitchSDDeg.Lifted, 2), Air: math.Max(under.FootPitchSDDeg.Air, 6)}
	folder, err := os.MkdirTemp("", "holdfast-calibration-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	if err := writeCalibration(filepath.Join(folder, c.Network+".calibration.json"), &under); err != nil {
		return err
	}
	if err := os.Setenv(models.FolderEnv, folder); err != nil {
		return err
	}
	var foot struct{ flat, lifted, air []float64 }
	for smoother, errs := range map[body.Smoother]*models.ByAngle{
		body.SmootherBody: &c.AngleErrorsDeg.Body, body.SmootherFilter: &c.AngleErrorsDeg.Filter,
	} {
		analyses := map[string]*screening.Analysis{}
		for _, s := range clips {
			a, err := screening.Measure(s.clip, s.track, screening.Options{HeightCm: 100 * s.truth.HeightM, Smoother: smoother})
			if err != nil {
				return err
			}
			analyses[s.name] = a
			for i, at := range a.Series.TimeS {
				f := s.truth.nearest(at)
				d := math.Abs(a.Series.AnglesDeg[body.FootPitch][i]) - math.Abs(f.Angles["foot_pitch"])
				switch {
				case math.IsNaN(d):
				case f.Phase == "flight":
					foot.air = append(foot.air, d)
				case f.HeelRiseM > heelUpM:
					foot.lifted = append(foot.lifted, d)
				case f.HeelRiseM <= flatM:
					foot.flat = append(foot.flat, d)
				}
			}
		}
		for angle, e := range errs.All() {
			means := map[string]float64{}
			var all, lifted []float64
			for _, s := range clips {
				mean, up := s.rangeErrors(analyses[s.name], angle)
				lifted = append(lifted, up...)
				if !math.IsNaN(mean) {
					means[s.name], all = mean, append(all, mean)
				}
			}
			var differ []float64
			for _, triple := range triples {
				for i, a := range triple {
					for _, b := range triple[:i] {
						x, okX := means[a]
						if y, okY := means[b]; okX && okY {
							differ = append(differ, (x-y)/math.Sqrt2)
						}
					}
				}
			}
			posture := rms(differ)
			e.Posture = rounded(math.Max(0.5, (1+allowance)*posture), 1)
			e.Clip = rounded((1+allowance)*math.Sqrt(math.Max(0, rms(all)*rms(all)-posture*posture)), 1)
			if angle == "ankle_dorsiflexion" || angle == "foot_pitch" {
				e.Lifted = rounded(math.Max(e.Posture, (1+allowance)*rms(lifted)), 1)
			}
		}
	}
	flat := math.Max(0.5, rms(foot.flat))
	c.FootPitchSDDeg = models.FootPitchSDs{Flat: rounded(flat, 1), Lifted: rounded(math.Max(flat, rms(foot.lifted)), 1),
		Air: rounded(math.Max(0.5, rms(foot.air)), 1)}
	return nil
}

// rangeErrors returns the mean error of an angle's range over the reps. Of foot and ankle
// those with the heel up are kept apart, in lifted.
func (s *seen) rangeErrors(a *screening.Analysis, angle string) (mean float64, lifted []float64) {
	foot := angle == "ankle_dorsiflexion" || angle == "foot_pitch"
	var sum, n float64
	for _, j := range matched(a, s.truth) {
		if j < 0 {
			continue
		}
		r := &a.Reps[j]
		var found, truly extent
		found.add(0)
		stand := s.truth.standing(named(inTruth, angle))
		truly.add(0)
		for i, at := range a.Series.TimeS {
			for _, span := range r.Loaded {
				if span.FromS <= at && at <= span.ToS {
					zero := 0.0
					if angle == "thigh_angle" {
						zero = a.Series.AnglesDeg[body.ThighAngle][0]
					}
					found.add(seriesOf(&a.Series.AnglesDeg, angle)[i] - zero)
					truly.add(s.truth.nearest(at).Angles[named(inTruth, angle)] - stand)
				}
			}
		}
		d := found.wide() - truly.wide()
		if math.IsNaN(d) {
			continue
		}
		if foot && s.truth.heelRise(r.Loaded) > heelUpM {
			lifted = append(lifted, d)
			continue
		}
		sum, n = sum+d, n+1
	}
	if n == 0 {
		return math.NaN(), lifted
	}
	return sum / n, lifted
}

// extent is from where to where values reach.
type extent struct{ from, to float64 }

func (e *extent) add(v float64) { e.from, e.to = min(e.from, v), max(e.to, v) }

func (e *extent) wide() float64 { return e.to - e.from }

// printCalibration prints every number as measured, and as it is used where the network
// has a calibration.
func printCalibration(w io.Writer, c, used *models.Calibration) error {
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
	t := newTable(w)
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

func writeCalibration(path string, c *models.Calibration) error {
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
