package models

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
)

// The decoders Holdfast knows: how raw outputs become detections or keypoints.
const (
	// DecoderDetector: boxes relative to a grid of anchors, with alignment
	// points; Manifest.Detector is set.
	DecoderDetector = "blazepose_detector"
	// DecoderLandmarks: five values a keypoint, and a heat map that refines
	// them; Manifest.Landmarks is set.
	DecoderLandmarks = "blazepose_landmarks"
	// DecoderCentred: a heat map a keypoint, and a map of where a body's middle
	// lies that says which peaks are that body's; Manifest.Centred is set.
	DecoderCentred = "centre_heatmap"
	// DecoderBox: middle and corners of a box round a thing, and the probability of
	// its being there; Manifest.Box is set.
	DecoderBox = "box_corners"
)

// Manifest says where a network comes from and what its tensors mean.
type Manifest struct {
	// Name is what Load is called with.
	Name  string `json:"name"`
	Title string `json:"title"`
	// File is the ONNX file's name, in the folder of the manifest.
	File string `json:"file"`
	// SHA256 is the sum of the ONNX file, lower-case hexadecimal.
	SHA256  string `json:"sha256"`
	Licence string `json:"licence"`
	Source  Source `json:"source"`
	// Changes lists what was done to the source.
	Changes []string `json:"changes"`
	Input   Input    `json:"input"`
	Outputs []Output `json:"outputs"`
	// Decoder is one of the Decoder constants.
	Decoder string `json:"decoder"`
	// Keypoints lists the points in the order of the outputs. Those of a
	// detector are alignment points, not body points, and marked auxiliary.
	Keypoints []Keypoint `json:"keypoints"`
	// Region says how the region to look at follows from this network's points; empty
	// for DecoderBox, where Box says it.
	Region Region `json:"region,omitzero"`
	// Detector is set for DecoderDetector only.
	Detector *Detector `json:"detector,omitempty"`
	// Landmarks is set for DecoderLandmarks only.
	Landmarks *Landmarks `json:"landmarks,omitempty"`
	// Centred is set for DecoderCentred only.
	Centred *Centred `json:"centred,omitempty"`
	// Box is set for DecoderBox only.
	Box *Box `json:"box,omitempty"`
}

// Source names the published file a network was converted from.
type Source struct {
	Package string `json:"package"`
	Version string `json:"version"`
	File    string `json:"file"`
	// SHA256 is the sum of that file.
	SHA256 string `json:"sha256"`
	// Weights is the second file, beside the first, where the weights are in one of their
	// own, WeightsSHA256 its sum; both are empty otherwise.
	Weights       string `json:"weights,omitempty"`
	WeightsSHA256 string `json:"weights_sha256,omitempty"`
}

// Input describes the picture a network takes.
type Input struct {
	Name   string `json:"name"`
	Width  int    `json:"width"`  // pixels
	Height int    `json:"height"` // pixels
	// Layout is "NCHW": one picture, then channels, rows, columns.
	Layout string `json:"layout"`
	// Colour is the order of the channels, "RGB".
	Colour string `json:"colour"`
	// Min and Max are what black (0 of 255) and white (255 of 255) become; the
	// values between follow linearly.
	Min float64 `json:"min"`
	Max float64 `json:"max"`
	// Border says what stands where the region reaches out of the picture:
	// "black" or "replicate" (the nearest pixel of the picture).
	Border string `json:"border"`
}

// Output describes one result tensor.
type Output struct {
	Name    string `json:"name"`
	Shape   []int  `json:"shape"`
	Meaning string `json:"meaning"`
}

// Keypoint is one point a network places.
type Keypoint struct {
	Name string `json:"name"`
	// Auxiliary points steer the tracking and are not part of a body.
	Auxiliary bool `json:"auxiliary,omitempty"`
}

// Region is the rule that turns points into the square region that the landmark
// network looks at: by two points, or by Reach.
//
// By two points, its centre is the point Centre; its side is twice the distance
// from Centre to Scale, times ScaleFactor; and it is turned so that, seen inside
// it, the line from Centre to Scale points at TargetAngleDeg.
type Region struct {
	// Reach, where it is not nil, is the rule, and the fields below are empty.
	Reach *Reach `json:"reach,omitempty"`
	// Centre and Scale are names of Manifest.Keypoints.
	Centre string `json:"centre,omitempty"`
	Scale  string `json:"scale,omitempty"`
	// TargetAngleDeg counts anticlockwise from the right: 90 is straight up.
	TargetAngleDeg float64 `json:"target_angle_deg,omitempty"`
	ScaleFactor    float64 `json:"scale_factor,omitempty"`
	// Smoothing is how the publisher's own tracker smooths the two points from
	// frame to frame before it makes the next region of them; nil where it does
	// not. Only the region is smoothed by it, never the keypoints.
	Smoothing *Smoothing `json:"smoothing,omitempty"`
	// Scout is a lighter network, of the same points, that goes ahead and finds the regions; empty where the network
	// finds its own.
	Scout string `json:"scout,omitempty"`
}

// Reach makes an upright square round the body's own points. Its centre is the middle
// of the points Centre; half its side is the farthest that a point lies from there,
// across or up and down: of the points Torso times TorsoFactor, or of all points
// times BodyFactor, whichever is more.
type Reach struct {
	// Centre and Torso are names of Manifest.Keypoints.
	Centre      []string `json:"centre"`
	Torso       []string `json:"torso"`
	TorsoFactor float64  `json:"torso_factor"`
	BodyFactor  float64  `json:"body_factor"`
	// MinScore is the smallest score of a point that counts as seen, here and for
	// whether a person is there: one of Centre and another of Torso must be seen.
	MinScore float64 `json:"min_score"`
}

// Smoothing holds the numbers of a One-Euro filter (Casiez, Roussel and Vogel
// 2012, from memory) that runs on each coordinate: a low-pass filter whose
// cutoff is MinCutoffHz + Beta * speed. The speed is counted in lengths a
// second, a length being twice the distance between the region's two points,
// and is itself low-passed at SpeedCutoffHz.
type Smoothing struct {
	MinCutoffHz   float64 `json:"min_cutoff_hz"`
	Beta          float64 `json:"beta"`
	SpeedCutoffHz float64 `json:"speed_cutoff_hz"`
}

// Detector holds what the detector's decoder needs.
type Detector struct {
	Anchors Anchors `json:"anchors"`
	// Boxes and Scores are names of Manifest.Outputs. A row of Boxes holds
	// centre x, centre y, width, height, then x, y of each keypoint, in input
	// pixels; centre and keypoints count from the anchor's centre.
	Boxes  string `json:"boxes"`
	Scores string `json:"scores"`
	// ScoreClip bounds the raw score before the logistic function.
	ScoreClip float64 `json:"score_clip"`
	// MinScore is the smallest probability that counts as a person.
	MinScore float64 `json:"min_score"`
	// MaxOverlap is the intersection over union above which two boxes are the
	// same person; they are then averaged with their scores as weights.
	MaxOverlap float64 `json:"max_overlap"`
}

// Anchors describes the detector's grid: one layer after the other, each row by
// row, each cell's anchors together. All anchors of a cell have the same
// centre and, as sizes are absolute, no size of their own.
type Anchors struct {
	Layers []AnchorLayer `json:"layers"`
	// Offset is where the centre lies in its cell, in cells.
	Offset float64 `json:"offset"`
}

// AnchorLayer is one layer of the grid.
type AnchorLayer struct {
	StridePx int `json:"stride_px"` // side of a cell in input pixels
	PerCell  int `json:"per_cell"`
}

// Count returns how many anchors the grid holds for a picture of the size.
func (a Anchors) Count(width, height int) int {
	n := 0
	for _, layer := range a.Layers {
		n += cells(width, layer.StridePx) * cells(height, layer.StridePx) * layer.PerCell
	}
	return n
}

// Centres returns the centre of every anchor in the order of the detector's
// outputs, in fractions of the picture's width and height.
func (a Anchors) Centres(width, height int) [][2]float64 {
	centres := make([][2]float64, 0, a.Count(width, height))
	for _, layer := range a.Layers {
		columns, rows := cells(width, layer.StridePx), cells(height, layer.StridePx)
		for row := range rows {
			for column := range columns {
				centre := [2]float64{
					(float64(column) + a.Offset) / float64(columns),
					(float64(row) + a.Offset) / float64(rows),
				}
				for range layer.PerCell {
					centres = append(centres, centre)
				}
			}
		}
	}
	return centres
}

func cells(lengthPx, stridePx int) int {
	return (lengthPx + stridePx - 1) / stridePx
}

// Landmarks holds what the landmark network's decoder needs.
type Landmarks struct {
	// Points, Presence, Heatmap and World are names of Manifest.Outputs.
	Points   string `json:"points"`
	Presence string `json:"presence"`
	Heatmap  string `json:"heatmap"`
	World    string `json:"world"`
	// MinPresence is the smallest probability that counts as a person.
	MinPresence float64 `json:"min_presence"`
	// HeatmapKernel is the side, in cells of the heat map, of the square around
	// a point over which the point's place is averaged; odd.
	HeatmapKernel int `json:"heatmap_kernel"`
	// HeatmapMinConfidence is the peak inside that square below which the point
	// is left where the network put it.
	HeatmapMinConfidence float64 `json:"heatmap_min_confidence"`
}

// Centred holds what the decoder of heat maps round a body's middle needs. The most
// likely cell of Centre is the body's middle; Regress leads from there to about where
// each keypoint lies; the keypoint is the cell in which its heat, divided by its
// distance in cells from that place plus SofteningCells, is largest; and Offset leads
// from that cell to the point itself.
type Centred struct {
	// Heatmap, Centre, Regress and Offset are names of Manifest.Outputs: 1 x rows x
	// columns x values. Centre has one value a cell, Heatmap one a keypoint, both 0 to
	// 1; Regress and Offset two a keypoint, y then x, in cells.
	Heatmap        string  `json:"heatmap"`
	Centre         string  `json:"centre"`
	Regress        string  `json:"regress"`
	Offset         string  `json:"offset"`
	SofteningCells float64 `json:"softening_cells"`
}

// Box holds what the decoder of a box round a shoe needs, and where to look for it. The
// box is one in space, seen in perspective: the eight corners are those of its two ends.
// Lengths are those of the shank in the picture.
type Box struct {
	// Points and Score are names of Manifest.Outputs: x and y of every keypoint in
	// input pixels, and the probability that there is a shoe.
	Points string `json:"points"`
	Score  string `json:"score"`
	// Middle, Heel and Toe are names of Manifest.Keypoints: the box's middle and the
	// corners of its ends.
	Middle string   `json:"middle"`
	Heel   []string `json:"heel"`
	Toe    []string `json:"toe"`
	// RegionShanks is the side of the square region to look at.
	RegionShanks float64 `json:"region_shanks"`
	// MinScore is the smallest probability that counts as a shoe, MinShanks and MaxShanks
	// bound the length of the box from end to end, and its middle lies at most AwayShanks
	// from the ankle.
	MinScore   float64 `json:"min_score"`
	MinShanks  float64 `json:"min_shanks"`
	MaxShanks  float64 `json:"max_shanks"`
	AwayShanks float64 `json:"away_shanks"`
}

// KeypointNames returns the names of the body points, auxiliary ones left out,
// in the order of the outputs.
func (m *Manifest) KeypointNames() []string {
	var names []string
	for _, k := range m.Keypoints {
		if !k.Auxiliary {
			names = append(names, k.Name)
		}
	}
	return names
}

// KeypointIndex returns a point's position in the outputs, or -1.
func (m *Manifest) KeypointIndex(name string) int {
	return slices.IndexFunc(m.Keypoints, func(k Keypoint) bool { return k.Name == name })
}

// KeypointIndices returns the positions of points in the outputs, -1 for those it has not.
func (m *Manifest) KeypointIndices(names []string) []int {
	places := make([]int, len(names))
	for i, name := range names {
		places[i] = m.KeypointIndex(name)
	}
	return places
}

// Output returns the output of that name, or nil.
func (m *Manifest) Output(name string) *Output {
	for i := range m.Outputs {
		if m.Outputs[i].Name == name {
			return &m.Outputs[i]
		}
	}
	return nil
}

// parseManifest reads and checks a manifest. A field it does not know is an
// error: a mistyped name would otherwise be a silent default.
func parseManifest(data []byte) (*Manifest, error) {
	decoder := json.NewDecoder(bytes.NewReader(data))
	decoder.DisallowUnknownFields()
	var m Manifest
	if err := decoder.Decode(&m); err != nil {
		return nil, fmt.Errorf("reading the manifest: %w", err)
	}
	if _, err := decoder.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("reading the manifest: something follows its end")
	}
	if err := m.check(); err != nil {
		return nil, fmt.Errorf("checking the manifest: %w", err)
	}
	return &m, nil
}

// Bounds that no network of this kind comes near; they keep a broken manifest
// from asking for absurd amounts of memory.
const (
	maxInputPx   = 4096
	maxKeypoints = 1024
	maxElements  = 1 << 28
	maxAnchors   = 1 << 20
)

// check returns all that is wrong with the manifest, joined.
func (m *Manifest) check() error {
	var wrong []error
	bad := func(format string, args ...any) { wrong = append(wrong, fmt.Errorf(format, args...)) }
	if !validName(m.Name) {
		bad("name %q: want lower-case letters, digits, - and _", m.Name)
	}
	if m.File == "" || m.File == "." || m.File == ".." || filepath.Base(m.File) != m.File ||
		strings.ContainsAny(m.File, `/\`) {
		bad("file %q: want the name of a file in the manifest's folder", m.File)
	}
	if !validSum(m.SHA256) {
		bad("sha256: want 64 lower-case hexadecimal digits")
	}
	if m.Licence == "" {
		bad("licence: missing")
	}
	m.Input.check(bad)
	m.checkOutputs(bad)
	if m.Decoder != DecoderBox {
		m.checkRegion(bad)
	} else if m.Region != (Region{}) {
		bad("region: want none for the decoder %s", m.Decoder)
	}
	m.checkDecoder(bad)
	return errors.Join(wrong...)
}

func (in *Input) check(bad func(string, ...any)) {
	if in.Name == "" {
		bad("input: name missing")
	}
	if in.Width < 1 || in.Height < 1 || in.Width > maxInputPx || in.Height > maxInputPx {
		bad("input: size %d x %d, want 1 to %d", in.Width, in.Height, maxInputPx)
	}
	if in.Layout != "NCHW" {
		bad("input: layout %q, want NCHW", in.Layout)
	}
	if in.Colour != "RGB" {
		bad("input: colour %q, want RGB", in.Colour)
	}
	if !(in.Min < in.Max) {
		bad("input: range %g to %g is empty", in.Min, in.Max)
	}
	if in.Border != "black" && in.Border != "replicate" {
		bad("input: border %q, want black or replicate", in.Border)
	}
}

// checkOutputs looks at the network's tensors and at the points they hold.
func (m *Manifest) checkOutputs(bad func(string, ...any)) {
	seen := map[string]bool{}
	for _, o := range m.Outputs {
		if o.Name == "" || seen[o.Name] {
			bad("outputs: name %q is missing or twice there", o.Name)
		}
		seen[o.Name] = true
		if elements(o.Shape) == 0 {
			bad("outputs: %s has the shape %v", o.Name, o.Shape)
		}
	}
	if len(m.Keypoints) == 0 || len(m.Keypoints) > maxKeypoints {
		bad("keypoints: %d of them, want 1 to %d", len(m.Keypoints), maxKeypoints)
	}
	seen = map[string]bool{}
	for _, k := range m.Keypoints {
		if k.Name == "" || seen[k.Name] {
			bad("keypoints: name %q is missing or twice there", k.Name)
		}
		seen[k.Name] = true
	}
}

// checkDecoder wants what the decoder needs, and nothing of another.
func (m *Manifest) checkDecoder(bad func(string, ...any)) {
	known := false
	for _, part := range []struct {
		decoder string
		there   bool
		check   func(func(string, ...any))
	}{
		{DecoderDetector, m.Detector != nil, m.checkDetector},
		{DecoderLandmarks, m.Landmarks != nil, m.checkLandmarks},
		{DecoderCentred, m.Centred != nil, m.checkCentred},
		{DecoderBox, m.Box != nil, m.checkBox},
	} {
		wanted := part.decoder == m.Decoder
		known = known || wanted
		switch {
		case wanted && part.there:
			part.check(bad)
		case wanted:
			bad("decoder %s: what it needs is missing", m.Decoder)
		case part.there:
			bad("decoder %s: it needs nothing of %s", m.Decoder, part.decoder)
		}
	}
	if !known {
		bad("decoder %q is not known", m.Decoder)
	}
}

func (m *Manifest) checkRegion(bad func(string, ...any)) {
	known := func(names ...string) {
		for _, name := range names {
			if m.KeypointIndex(name) < 0 {
				bad("region: %q is no keypoint", name)
			}
		}
	}
	r := m.Region
	if reach := r.Reach; reach != nil {
		if r != (Region{Reach: reach}) {
			bad("region: want either reach or two points")
		}
		known(reach.Centre...)
		known(reach.Torso...)
		if len(reach.Centre) == 0 || len(reach.Torso) == 0 {
			bad("region: reach without points")
		}
		if !(reach.TorsoFactor > 0) || !(reach.BodyFactor > 0) || reach.MinScore < 0 || reach.MinScore > 1 {
			bad("region: factors %g and %g or smallest score %g of reach are out of range", reach.TorsoFactor, reach.BodyFactor,
				reach.MinScore)
		}
		return
	}
	known(r.Centre, r.Scale)
	if !(r.ScaleFactor > 0) || math.Abs(r.TargetAngleDeg) > 360 {
		bad("region: scale factor %g or angle %g is out of range", r.ScaleFactor, r.TargetAngleDeg)
	}
	if f := r.Smoothing; f != nil && !(f.MinCutoffHz > 0 && f.Beta >= 0 && f.SpeedCutoffHz > 0) {
		bad("region: smoothing %+v is out of range", *f)
	}
}

func (m *Manifest) checkDetector(bad func(string, ...any)) {
	d := m.Detector
	anchors := 0
	for _, layer := range d.Anchors.Layers {
		if layer.StridePx < 1 || layer.PerCell < 1 || layer.PerCell > 64 {
			bad("detector: anchor layer with stride %d and %d in a cell", layer.StridePx, layer.PerCell)
			return
		}
	}
	// Only a sane picture may be counted over.
	if m.Input.Width >= 1 && m.Input.Height >= 1 && m.Input.Width <= maxInputPx && m.Input.Height <= maxInputPx &&
		len(d.Anchors.Layers) <= 16 {
		anchors = d.Anchors.Count(m.Input.Width, m.Input.Height)
	}
	if anchors < 1 || anchors > maxAnchors {
		bad("detector: %d anchors, want 1 to %d", anchors, maxAnchors)
		return
	}
	if d.Anchors.Offset < 0 || d.Anchors.Offset > 1 {
		bad("detector: anchor offset %g, want 0 to 1", d.Anchors.Offset)
	}
	m.checkShape(bad, "detector", d.Boxes, anchors*(4+2*len(m.Keypoints)))
	m.checkShape(bad, "detector", d.Scores, anchors)
	if !(d.ScoreClip > 0) || d.MinScore < 0 || d.MinScore > 1 || d.MaxOverlap < 0 || d.MaxOverlap > 1 {
		bad("detector: score clip %g, smallest score %g or overlap %g is out of range", d.ScoreClip, d.MinScore, d.MaxOverlap)
	}
}

func (m *Manifest) checkLandmarks(bad func(string, ...any)) {
	l := m.Landmarks
	points := len(m.Keypoints)
	m.checkShape(bad, "landmarks", l.Points, 5*points)
	m.checkShape(bad, "landmarks", l.Presence, 1)
	m.checkShape(bad, "landmarks", l.World, 3*points)
	if o := m.Output(l.Heatmap); o == nil || len(o.Shape) != 4 || o.Shape[3] != points {
		bad("landmarks: the heat map %q must be an output of shape 1 x rows x columns x %d", l.Heatmap, points)
	}
	if l.MinPresence < 0 || l.MinPresence > 1 || l.HeatmapMinConfidence < 0 || l.HeatmapMinConfidence > 1 {
		bad("landmarks: presence %g or confidence %g, want 0 to 1", l.MinPresence, l.HeatmapMinConfidence)
	}
	if l.HeatmapKernel < 1 || l.HeatmapKernel%2 == 0 || l.HeatmapKernel > maxInputPx {
		bad("landmarks: heat map kernel %d, want an odd number", l.HeatmapKernel)
	}
}

func (m *Manifest) checkCentred(bad func(string, ...any)) {
	c, points := m.Centred, len(m.Keypoints)
	centre := m.Output(c.Centre)
	if centre == nil || len(centre.Shape) != 4 || centre.Shape[3] != 1 {
		bad("centred: the centre map %q must be an output of shape 1 x rows x columns x 1", c.Centre)
		return
	}
	cells := elements(centre.Shape)
	m.checkShape(bad, "centred", c.Heatmap, points*cells)
	m.checkShape(bad, "centred", c.Regress, 2*points*cells)
	m.checkShape(bad, "centred", c.Offset, 2*points*cells)
	if !(c.SofteningCells > 0) {
		bad("centred: softening of %g cells, want more than 0", c.SofteningCells)
	}
	if m.Region.Reach == nil {
		bad("centred: the region must be by reach, which also says whether a person is there")
	}
}

func (m *Manifest) checkBox(bad func(string, ...any)) {
	b := m.Box
	m.checkShape(bad, "box", b.Points, 2*len(m.Keypoints))
	m.checkShape(bad, "box", b.Score, 1)
	if len(b.Heel) == 0 || len(b.Toe) == 0 {
		bad("box: want corners of heel and toe")
	}
	for _, name := range slices.Concat([]string{b.Middle}, b.Heel, b.Toe) {
		if m.KeypointIndex(name) < 0 {
			bad("box: %q is no keypoint", name)
		}
	}
	if b.MinScore < 0 || b.MinScore > 1 || !(b.RegionShanks > 0) || b.MinShanks < 0 || !(b.MaxShanks > b.MinShanks) ||
		!(b.AwayShanks > 0) {
		bad("box: score, region or lengths of %+v are out of range", *b)
	}
}

func (m *Manifest) checkShape(bad func(string, ...any), part, output string, want int) {
	o := m.Output(output)
	if o == nil {
		bad("%s: %q is no output", part, output)
		return
	}
	if n := elements(o.Shape); n != want {
		bad("%s: %s has %d values, want %d", part, output, n, want)
	}
}

// elements returns how many values a shape holds, 0 when it is not a shape.
func elements(shape []int) int {
	n := 1
	for _, d := range shape {
		if d < 1 || d > maxElements/n {
			return 0
		}
		n *= d
	}
	if len(shape) == 0 {
		return 0
	}
	return n
}

func validName(name string) bool {
	if name == "" || len(name) > 64 {
		return false
	}
	for _, r := range name {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' && r != '_' {
			return false
		}
	}
	return true
}

// validModel says whether a name may be that of a network or of a pair.
func validModel(name string) bool {
	return !slices.ContainsFunc(Parts(name), func(part string) bool { return !validName(part) })
}

func validSum(sum string) bool {
	raw, err := hex.DecodeString(sum)
	return err == nil && len(raw) == 32 && strings.ToLower(sum) == sum
}
