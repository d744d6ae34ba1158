package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
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
	"holdfast/scripts/internal/accuracy/figures"
	"holdfast/scripts/internal/accuracy/parts"
	"holdfast/scripts/internal/render/motion"
	"holdfast/vision"
	"holdfast/vision/media"
	"holdfast/vision/pose"
)

const (
	// heelUpM: from this true rise on the heel counts as up, below flatM as flat.
	heelUpM, flatM = 0.01, 0.001
	// heldS is how long a position must be held for its error to be told from noise.
	heldS = 0.3
	// leastOffsetSDLegs bounds the spread of an offset.
	leastOffsetSDLegs = 0.004
	// heelLagToDeg is up to which pitch of the foot its heel lags: farther up it follows.
	heelLagToDeg = 12
	// fewestAthletes can be calibrated on.
	fewestAthletes = 6
)

// ownOffsetPart is the part of the athletes' spread of a point's offsets that a clip may find for itself, where it is
// not all of it: thighs that turn out and spines that bend would be taken for offsets. On 16 athletes of the calibrate
// set the losses of knee and hip are closer to the truth with half of it.
var ownOffsetPart = map[string]float64{"hip": 0.5, "knee": 0.5}

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
	name, athlete string
	clip          *media.Clip
	track         *pose.Track
	truth         *truth
}

// calibrate measures a network, or a pair, on the invented athletes of a folder and prints what it finds beside what
// is used. With write it becomes the network's calibration. Clips in which nobody was found are left out.
func calibrate(ctx context.Context, w io.Writer, folder, network string, write bool) error {
	paths, err := filepath.Glob(filepath.Join(folder, "athlete_*_slow.mp4"))
	if err != nil || len(paths) == 0 {
		return fmt.Errorf("there are no invented athletes in %s: %w", folder, errors.Join(err, os.ErrNotExist))
	}
	var clips []*seen
	for _, path := range paths {
		athlete := strings.TrimSuffix(filepath.Base(path), "_slow.mp4")
		for _, kind := range bothTempos {
			c, err := seeClip(ctx, network, folder, athlete, fmt.Sprintf("%s_%s", athlete, kind))
			if errors.Is(err, vision.ErrNoPerson) {
				continue
			}
			if err != nil {
				return err
			}
			clips = append(clips, c)
		}
	}
	if len(paths) < fewestAthletes {
		return fmt.Errorf("%d athletes say too little of others: render at least %d", len(paths), fewestAthletes)
	}
	sum := clips[0].track.ModelSHA256
	used, err := models.CalibrationOf(network, sum)
	if err != nil {
		return err
	}
	c := models.Calibration{
		Schema: models.CalibrationSchema, Network: network, NetworkSHA256: sum, Version: 1,
		Date:       time.Now().Format(time.DateOnly),
		MeasuredOn: fmt.Sprintf("%d invented athletes of the calibrate set, slow and fast, three reps a clip", len(paths)),
		Remarks: []string{
			"Measured by scripts/calibrate.",
			"Offsets: mean and standard deviation over the athletes of straight lines through the offsets over knee flexion, " +
				"frames with the heel down; the slopes of knee, hip and shoulder beside a body as stiff as that of the fit; " +
				"at knee and hip half of the deviation.",
			"Angle errors: a random-effects decomposition (Searle, Casella and McCulloch 1992, from memory) of the errors of " +
				"the ranges of all reps, by maximum likelihood: what both clips of an athlete share is clip, what a clip has " +
				"beyond it posture, at least 0.5, lifted what grows with the foot's pitch at the bottom, for 15 degrees of it, " +
				"and rep what a single rep has beside the noise of its points.",
			"Heel lag: in fast squats, the first 12 degrees that heels come up, the median of the athletes whose do.",
			"Error time: from the autocorrelation from frame to frame in held positions. Wander floor: the quietest point " +
				"of the quietest clip.",
			"View: 4 degrees is what squats turned by 0 to 45 degrees were read off by with two networks.",
			"Confidence limits: common practice, no source.",
		},
		HeelLagToDeg: heelLagToDeg, ViewSDDeg: 4, Confidence: models.ConfidenceLimits{Good: 0.7, Low: 0.5, Lost: 0.3},
	}
	measurePoints(&c, clips)
	if used != nil {
		c.Version, c.ViewSDDeg, c.Confidence = used.Version+1, used.ViewSDDeg, used.Confidence
		if slices.ContainsFunc(clips, func(s *seen) bool { return figures.PassedOver(s.track) }) {
			figures.KeepPoints(&c, used)
		}
	}
	// The errors of angles are those of the fit with the offsets that are used.
	under := c
	if used != nil && !write {
		under = *used
	}
	if err := measureAngles(&c, under, clips); err != nil {
		return err
	}
	if err := figures.PrintCalibration(w, &c, used); err != nil || !write {
		return err
	}
	path := filepath.Join("models", network+".calibration.json")
	if err := figures.WriteCalibration(path, &c); err != nil {
		return fmt.Errorf("keeping the calibration: %w", err)
	}
	fmt.Fprintf(w, "\nWritten to %s.\n", path)
	return nil
}

func seeClip(ctx context.Context, network, folder, athlete, name string) (*seen, error) {
	s := &seen{name: name, athlete: athlete}
	var err error
	if s.truth, err = readTruth(filepath.Join(folder, name+".json")); err != nil {
		return nil, err
	}
	if s.clip, err = media.Open(ctx, filepath.Join(folder, name+".mp4")); err != nil {
		return nil, err
	}
	if s.track, err = keptTrack(ctx, s.clip, folder, network, name); err != nil {
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
	at, ok := s.truth.Frames[i].Points[s.truth.Near+"_"+named(inTruth, point)]
	return s.from(at, ok, i, point, legPx)
}

// besideStiff is the same beside a body as stiff as that of the fit: its segments keep the lengths, in pixels, that
// they have in standing and turn by the true angles, so that a spine that bends and a thigh that turns out are in the
// offset.
func (s *seen) besideStiff(i int, point string, lengths [3]float64, legPx float64) beside {
	n := map[string]int{"knee": 1, "hip": 2, "shoulder": 3}[point]
	if n == 0 {
		return s.beside(i, point, legPx)
	}
	f := &s.truth.Frames[i]
	at, ok := f.Points[s.truth.Near+"_ankle"]
	shank := f.Angles["shank_tilt"]
	for k, deg := range []float64{shank, shank - f.Angles["knee_flexion"], f.Angles["trunk_lean"]}[:n] {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		at = [2]float64{at[0] + s.truth.sign()*lengths[k]*sin, at[1] - lengths[k]*cos}
	}
	return s.from(at, ok, i, point, legPx)
}

func (s *seen) from(at [2]float64, ok bool, i int, point string, legPx float64) beside {
	k := s.track.KeypointIndex(s.truth.Near + "_" + named(inTrack, point))
	p := &s.track.Poses[i]
	if !ok || k < 0 || !p.Found {
		return beside{math.NaN(), math.NaN()}
	}
	q := p.Keypoints[k]
	return beside{s.truth.sign() * (q.X - at[0]) / legPx, (at[1] - q.Y) / legPx}
}

// standingPx returns the lengths of shank, thigh and trunk in the picture of the standing athlete.
func (t *truth) standingPx() (lengths [3]float64) {
	chain := []string{"ankle", "knee", "hip", "shoulder"}
	for k := range lengths {
		var all []float64
		for i := range t.Frames {
			if f := &t.Frames[i]; f.Phase == "stand" {
				a, b := f.Points[t.Near+"_"+chain[k]], f.Points[t.Near+"_"+chain[k+1]]
				all = append(all, math.Hypot(a[0]-b[0], a[1]-b[1]))
			}
		}
		lengths[k] = quantileOf(all, 0.5)
	}
	return lengths
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
	var errorTimes, wanders, sinks []float64
	floor := math.Inf(1)
	for name, o := range c.PointOffsetsLegs.All() {
		fits := map[string][2]line{}
		var lines [2][]line
		for athlete, of := range byAthlete(clips) {
			l := offsetsOf(of, name)
			fits[athlete] = l.joint
			for axis := range l.joint {
				lines[axis] = append(lines[axis], line{l.joint[axis].level, l.stiff[axis].slope})
			}
			if name == "heel" || name == "ankle" {
				sinks = append(sinks, l.sink)
			}
		}
		level, slope := func(l line) float64 { return l.level }, func(l line) float64 { return l.slope }
		o.Mean.Fwd, o.SD.Fwd = ofAthletes(lines[0], level)
		o.Mean.Up, o.SD.Up = ofAthletes(lines[1], level)
		o.Mean.FwdPerRad, o.SD.FwdPerRad = ofAthletes(lines[0], slope)
		o.Mean.UpPerRad, o.SD.UpPerRad = ofAthletes(lines[1], slope)
		if part, ok := ownOffsetPart[name]; ok {
			for _, sd := range []*float64{&o.SD.Fwd, &o.SD.Up, &o.SD.FwdPerRad, &o.SD.UpPerRad} {
				*sd = rounded(part**sd, 4)
			}
		}
		for _, s := range clips {
			leg, fit := s.legPx(), fits[s.athlete]
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
	c.WanderFloorLegs, c.WanderLegs = rounded(floor, 4), rounded(rms(wanders), 4)
	c.FootSinkLegsPerDeg = rounded(max(0, quantileOf(sinks, 0.5)), 5)
	c.HeelLag = heelLag(clips)
}

// offsetLines is how a point of one athlete lies beside the joint, and beside that of a stiff body, over knee flexion,
// forward and up; sink is how far it sinks for each degree that the shank leans.
type offsetLines struct {
	joint, stiff [2]line
	sink         float64
}

func offsetsOf(of []*seen, name string) (l offsetLines) {
	foot := name == "ankle" || name == "heel" || name == "toe"
	var bend, lean []float64
	var joint, stiff [2][]float64
	for _, s := range of {
		leg, lengths := s.legPx(), s.truth.standingPx()
		for i := range s.frames() {
			f := &s.truth.Frames[i]
			d, e := s.beside(i, name, leg), s.besideStiff(i, name, lengths, leg)
			if math.IsNaN(d.fwd) || f.Phase == "flight" || foot && f.HeelRiseM > flatM {
				continue
			}
			bend, lean = append(bend, f.Angles["knee_flexion"]*math.Pi/180), append(lean, f.Angles["shank_tilt"])
			joint[0], joint[1] = append(joint[0], d.fwd), append(joint[1], d.up)
			stiff[0], stiff[1] = append(stiff[0], e.fwd), append(stiff[1], e.up)
		}
	}
	for axis := range 2 {
		l.joint[axis], l.stiff[axis] = lineThrough(bend, joint[axis]), lineThrough(bend, stiff[axis])
	}
	l.sink = -lineThrough(lean, joint[1]).slope
	return l
}

func byAthlete(clips []*seen) map[string][]*seen {
	out := map[string][]*seen{}
	for _, s := range clips {
		out[s.athlete] = append(out[s.athlete], s)
	}
	return out
}

// ofAthletes returns mean and standard deviation of what athletes have of something.
func ofAthletes(of []line, value func(line) float64) (mean, sd float64) {
	values := make([]float64, len(of))
	for i, l := range of {
		values[i] = value(l)
	}
	mean, sd = stat.MeanStdDev(values, nil)
	return rounded(mean, 4), rounded(math.Max(leastOffsetSDLegs, sd), 4)
}

// heelLag returns the part of the true rise of a heel on the floor that its point does not
// show in fast squats while the foot is pitched by no more than heelLagToDeg, the median of
// the athletes whose heels come up.
func heelLag(clips []*seen) float64 {
	var lags []float64
	for _, of := range byAthlete(clips) {
		var shown, risen float64
		for _, s := range of {
			k := s.track.KeypointIndex(s.truth.Near + "_heel")
			if k < 0 || !strings.HasSuffix(s.name, string(motion.Fast)) {
				continue
			}
			var level []float64
			for i := range s.frames() {
				if f := &s.truth.Frames[i]; f.HeelRiseM <= flatM && f.Phase != "flight" && s.track.Poses[i].Found {
					level = append(level, s.track.Poses[i].Keypoints[k].Y)
				}
			}
			if len(level) == 0 {
				continue
			}
			for i := range s.frames() {
				f := &s.truth.Frames[i]
				pitchDeg := math.Abs(f.Angles["foot_pitch"])
				if f.HeelRiseM > heelUpM && pitchDeg <= heelLagToDeg && f.Phase != "flight" && s.track.Poses[i].Found {
					up := (quantileOf(level, 0.5) - s.track.Poses[i].Keypoints[k].Y) * s.truth.Camera.metresPerPx()
					shown, risen = shown+up*f.HeelRiseM, risen+f.HeelRiseM*f.HeelRiseM
				}
			}
		}
		if risen > 0 {
			lags = append(lags, 1-shown/risen)
		}
	}
	if len(lags) == 0 {
		return 0
	}
	return rounded(min(0.9, max(0, quantileOf(lags, 0.5))), 2)
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
	if err := figures.WriteCalibration(filepath.Join(folder, c.Network+".calibration.json"), &under); err != nil {
		return err
	}
	if err := os.Setenv(models.FolderEnv, folder); err != nil {
		return err
	}
	var foot struct{ flat, lifted, air []float64 }
	for smoother, errs := range map[body.Smoother]*models.ByAngle{
		body.SmootherBody: &c.AngleErrorsDeg.Body, body.SmootherFilter: &c.AngleErrorsDeg.Filter,
	} {
		ranges := map[string]map[string][][]parts.Error{} // by angle and athlete, a clip each
		for _, s := range clips {
			a, err := screening.Measure(s.clip, s.track, screening.Options{HeightCm: 100 * s.truth.HeightM, Smoother: smoother})
			if errors.Is(err, screening.ErrCannotMeasure) {
				continue
			}
			if err != nil {
				return err
			}
			for angle := range errs.All() {
				if ranges[angle] == nil {
					ranges[angle] = map[string][][]parts.Error{}
				}
				ranges[angle][s.athlete] = append(ranges[angle][s.athlete], s.rangeErrors(a, angle))
			}
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
			*e = parts.Of(slices.Collect(maps.Values(ranges[angle])))
		}
	}
	flat := math.Max(parts.LeastPostureDeg, rms(foot.flat))
	c.FootPitchSDDeg = models.FootPitchSDs{Flat: rounded(flat, 1), Lifted: rounded(math.Max(flat, rms(foot.lifted)), 1),
		Air: under.FootPitchSDDeg.Air}
	if len(foot.air) > 0 {
		c.FootPitchSDDeg.Air = rounded(math.Max(parts.LeastPostureDeg, rms(foot.air)), 1)
	}
	return nil
}

// rangeErrors returns the errors of an angle's range in the reps of a clip in which it was measured.
func (s *seen) rangeErrors(a *screening.Analysis, angle string) (errs []parts.Error) {
	stand := s.truth.standing(named(inTruth, angle))
	number := body.Angle(0)
	for number.String() != angle {
		number++
	}
	for _, j := range matched(a, s.truth) {
		if j < 0 {
			continue
		}
		var found, truly, pitch extent
		found.add(0)
		truly.add(0)
		for i, at := range a.Series.TimeS {
			for _, span := range a.Reps[j].Loaded {
				if span.FromS <= at && at <= span.ToS {
					zero := 0.0
					if angle == "thigh_angle" {
						zero = a.Series.AnglesDeg[body.ThighAngle][0]
					}
					f := s.truth.nearest(at)
					found.add(seriesOf(&a.Series.AnglesDeg, angle)[i] - zero)
					truly.add(f.Angles[named(inTruth, angle)] - stand)
					pitch.add(math.Abs(f.Angles["foot_pitch"]))
				}
			}
		}
		m := &a.Reps[j].Angles[number]
		noise := math.Sqrt(max(0, m.SDDeg*m.SDDeg-m.SystematicSDDeg*m.SystematicSDDeg))
		if d := found.wide() - truly.wide(); !math.IsNaN(d + noise) {
			errs = append(errs, parts.Error{Deg: d, NoiseDeg: noise, PitchDeg: pitch.to})
		}
	}
	return errs
}

// extent is from where to where values reach.
type extent struct{ from, to float64 }

func (e *extent) add(v float64) { e.from, e.to = min(e.from, v), max(e.to, v) }

func (e *extent) wide() float64 { return e.to - e.from }
