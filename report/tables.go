package report

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"

	"holdfast/kinematics/body"
	"holdfast/printable"
	"holdfast/report/measures"
	"holdfast/report/motion"
	"holdfast/screening"
	"holdfast/vision/pose"
)

// angleColumns are the angles of series.csv, in order.
var angleColumns = []struct {
	name string
	of   body.Angle
}{
	{"ankle_dorsiflexion_deg", body.AnkleDorsiflexion},
	{"knee_flexion_deg", body.KneeFlexion},
	{"hip_flexion_deg", body.HipFlexion},
	{"shank_angle_deg", body.ShankAngle},
	{"trunk_lean_deg", body.TrunkLean},
	{"thigh_angle_deg", body.ThighAngle},
	{"foot_pitch_deg", body.FootPitch},
	{"shoulder_flexion_deg", body.ShoulderFlexion},
	{"elbow_flexion_deg", body.ElbowFlexion},
}

// writeSeries writes one row a frame: the network's own points, and the
// smoothed angles read at the frame's time. time_s is the movement's time, as in
// the analysis; file_time_s is the frame's own, which differs when the file plays
// in slow motion. A missing value is an empty cell.
// Of a clip without reps the standard deviation of each angle stands beside it.
// Without a track there is one row a sample of the series, and no points.
func writeSeries(w io.Writer, m *motion.Motion, t *pose.Track) error {
	out := csv.NewWriter(w)
	head := []string{"frame", "time_s", "file_time_s"}
	var names []string
	if t != nil {
		names = t.KeypointNames
	}
	for _, n := range names {
		n = measures.Text(n)
		head = append(head, n+"_x_px", n+"_y_px", n+"_visibility")
	}
	for _, c := range angleColumns {
		head = append(head, c.name)
	}
	if m.Analysis.Plain != nil {
		for _, c := range angleColumns {
			head = append(head, strings.TrimSuffix(c.name, "_deg")+"_sd_deg")
		}
	}
	head = append(head, "heel_rise_pct_foot", "rep", "tempo", "phase", "filled", "missing")
	if err := out.Write(head); err != nil {
		return err
	}
	row := func(frame string, timeS float64, points []pose.Keypoint) error {
		cells := []string{frame, strconv.FormatFloat(timeS, 'f', 6, 64), strconv.FormatFloat(timeS*m.Slowdown, 'f', 6, 64)}
		for k := range names {
			if k < len(points) && !points[k].Missing() {
				cells = append(cells, measures.Number(points[k].X), measures.Number(points[k].Y),
					measures.Number(points[k].Visibility))
			} else {
				cells = append(cells, "", "", "")
			}
		}
		missing := m.Missing(timeS)
		read := func(s []float64) string {
			if missing {
				return ""
			}
			return measures.Number(m.Value(s, timeS))
		}
		for _, c := range angleColumns {
			cells = append(cells, read(m.Analysis.Series.AnglesDeg[c.of]))
		}
		if m.Analysis.Plain != nil {
			for _, c := range angleColumns {
				cells = append(cells, read(m.Analysis.Series.SDDeg[c.of]))
			}
		}
		cells = append(cells, read(m.Analysis.Series.HeelRisePctFoot))
		if r := m.Rep(timeS); r != nil {
			cells = append(cells, strconv.Itoa(r.Number), measures.Text(string(r.Tempo)),
				measures.Text(motion.PhaseAt(r, timeS)))
		} else {
			cells = append(cells, "", "", "")
		}
		return out.Write(append(cells, strconv.FormatBool(m.Filled(timeS)), strconv.FormatBool(missing)))
	}
	if t != nil {
		for i := range t.Poses {
			p := &t.Poses[i]
			if err := row(strconv.Itoa(p.Index), p.TimeS/m.Slowdown, p.Keypoints); err != nil {
				return err
			}
		}
	} else {
		for _, timeS := range m.TimesS {
			if err := row("", timeS, nil); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// skeletonEdges are the lines of the 33-point skeleton, by keypoint name without
// its side; each is drawn on the left and on the right.
var skeletonEdges = [][2]string{
	{"ear", "shoulder"}, {"shoulder", "elbow"}, {"elbow", "wrist"},
	{"shoulder", "hip"}, {"hip", "knee"}, {"knee", "ankle"}, {"ankle", "heel"}, {"heel", "foot_index"},
}

type cocoFile struct {
	Info        cocoInfo         `json:"info"`
	Licenses    []struct{}       `json:"licenses"`
	Images      []cocoImage      `json:"images"`
	Annotations []cocoAnnotation `json:"annotations"`
	Categories  []cocoCategory   `json:"categories"`
}

type cocoInfo struct {
	Description string `json:"description"`
	Version     string `json:"version"`
	Contributor string `json:"contributor"`
}

type cocoImage struct {
	ID         int     `json:"id"`
	FileName   string  `json:"file_name"`
	Width      int     `json:"width"`
	Height     int     `json:"height"`
	FrameIndex int     `json:"frame_index"`
	TimeS      float64 `json:"time_s"`
}

type cocoAnnotation struct {
	ID           int        `json:"id"`
	ImageID      int        `json:"image_id"`
	CategoryID   int        `json:"category_id"`
	Keypoints    []float64  `json:"keypoints"`
	NumKeypoints int        `json:"num_keypoints"`
	BBox         [4]float64 `json:"bbox"`
	Area         float64    `json:"area"`
	IsCrowd      int        `json:"iscrowd"`
	Score        float64    `json:"score"`
}

type cocoCategory struct {
	ID            int      `json:"id"`
	Name          string   `json:"name"`
	Supercategory string   `json:"supercategory"`
	Keypoints     []string `json:"keypoints"`
	Skeleton      [][2]int `json:"skeleton"`
}

// visibleFrom is the probability from which a keypoint counts as visible (COCO
// 2) and not as hidden (COCO 1). Common practice, no source.
const visibleFrom = 0.5

// writeKeypoints writes the network's points in the COCO keypoint layout: x, y
// and v for each keypoint, v 0 not seen, 1 hidden, 2 visible. Image numbers
// start at 1, the frame's own index and time stand beside them.
func writeKeypoints(w io.Writer, a *screening.Analysis, t *pose.Track) error {
	f := cocoFile{
		Info: cocoInfo{
			Description: "Keypoints of " + a.Clip.Name +
				", pixels of the upright picture, the centre of the top-left pixel at (0.5, 0.5). " +
				"The file names are those that ffmpeg -i CLIP -fps_mode passthrough -start_number 0 frame_%06d.png " +
				"gives the frames.",
			Version:     a.Program,
			Contributor: t.ModelName,
		},
		Licenses:    []struct{}{},
		Images:      []cocoImage{},
		Annotations: []cocoAnnotation{},
		Categories: []cocoCategory{{ID: 1, Name: "person", Supercategory: "person",
			Keypoints: append([]string{}, t.KeypointNames...), Skeleton: [][2]int{}}},
	}
	for _, side := range []string{"left_", "right_"} {
		for _, e := range skeletonEdges {
			if i, j := t.KeypointIndex(side+e[0]), t.KeypointIndex(side+e[1]); i >= 0 && j >= 0 {
				f.Categories[0].Skeleton = append(f.Categories[0].Skeleton, [2]int{i + 1, j + 1})
			}
		}
	}
	for i := range t.Poses {
		p := &t.Poses[i]
		f.Images = append(f.Images, cocoImage{ID: i + 1, FileName: fmt.Sprintf("frame_%06d.png", p.Index),
			Width: a.Clip.WidthPx, Height: a.Clip.HeightPx, FrameIndex: p.Index, TimeS: p.TimeS})
		if !p.Found {
			continue
		}
		an := cocoAnnotation{ID: len(f.Annotations) + 1, ImageID: i + 1, CategoryID: 1, Score: p.Score}
		lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
		for _, k := range p.Keypoints {
			if k.Missing() {
				an.Keypoints = append(an.Keypoints, 0, 0, 0)
				continue
			}
			v := 1.0
			if k.Visibility >= visibleFrom {
				v = 2
			}
			an.Keypoints = append(an.Keypoints, k.X, k.Y, v)
			an.NumKeypoints++
			lo = [2]float64{math.Min(lo[0], k.X), math.Min(lo[1], k.Y)}
			hi = [2]float64{math.Max(hi[0], k.X), math.Max(hi[1], k.Y)}
		}
		if an.NumKeypoints == 0 {
			continue
		}
		wide, tall := hi[0]-lo[0], hi[1]-lo[1]
		an.BBox = [4]float64{lo[0], lo[1], wide, tall}
		an.Area = wide * tall
		f.Annotations = append(f.Annotations, an)
	}
	doc, err := screening.EncodeJSON(f)
	if err != nil {
		return err
	}
	return printable.WriteJSON(w, json.RawMessage(doc))
}

// withoutNil returns a copy in which every list and map that is nil is empty:
// in the JSON a missing list is [], never null.
func withoutNil[T any](v *T) *T {
	out := filled(reflect.ValueOf(v).Elem())
	c := out.Interface().(T)
	return &c
}

func filled(v reflect.Value) reflect.Value {
	out := reflect.New(v.Type()).Elem()
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if strings.HasPrefix(v.Type().Field(i).Tag.Get("json"), "-") {
				continue
			}
			out.Field(i).Set(filled(v.Field(i)))
		}
	case reflect.Slice:
		out.Set(reflect.MakeSlice(v.Type(), v.Len(), v.Len()))
		for i := range v.Len() {
			out.Index(i).Set(filled(v.Index(i)))
		}
	case reflect.Array:
		for i := range v.Len() {
			out.Index(i).Set(filled(v.Index(i)))
		}
	case reflect.Map:
		out.Set(reflect.MakeMap(v.Type()))
		for it := v.MapRange(); it.Next(); {
			out.SetMapIndex(it.Key(), filled(it.Value()))
		}
	default:
		out.Set(v)
	}
	return out
}
