package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"holdfast/kinematics"
	"holdfast/kinematics/body"
	"holdfast/kinematics/events"
	"holdfast/kinematics/joints"
	"holdfast/kinematics/notice"
	"holdfast/kinematics/stats"
	"holdfast/kinematics/trace"
	"holdfast/screening"
	"holdfast/vision"
)

// shortClip makes a small grey clip with the given frame times: short enough
// for a test of every file.
func shortClip(t *testing.T, timesS []float64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "fast.mp4")
	c, err := vision.NewCanvas(320, 180, line)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	v, err := vision.NewVideoWriter(t.Context(), path, 320, 180)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Abort()
	for _, s := range timesS {
		if err := v.Write(c, s); err != nil {
			t.Fatal(err)
		}
	}
	if err := v.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// shortAnalysis is the fast clip's truth with a picture file of 320 × 180 pixels
// whose frames come at a varying rate.
func shortAnalysis(t *testing.T) (*screening.Analysis, *vision.Track, []float64) {
	t.Helper()
	a, full := truthAnalysis(t, "fast", "fast")
	tr := *full
	tr.Poses = nil
	var times []float64
	for i := 0; i < len(full.Poses) && full.Poses[i].TimeS < 3; i += 3 + i%4 {
		p := full.Poses[i]
		p.Index = len(tr.Poses)
		tr.Poses = append(tr.Poses, p)
		times = append(times, p.TimeS)
	}
	a.Clip.Path = shortClip(t, times)
	a.Clip.WidthPx, a.Clip.HeightPx, a.Clip.VariableRate, a.Clip.Frames = 320, 180, true, len(times)
	a.Reps = a.Reps[:1]
	for name, xy := range a.Series.PointsPx {
		for i := range xy.X {
			xy.X[i] /= 4
			xy.Y[i] /= 4
		}
		a.Series.PointsPx[name] = xy
	}
	for i := 20; i < 30; i++ {
		a.Series.Filled[i] = true
		a.Series.Missing[i+20] = true
	}
	return a, &tr, times
}

func schemaErr(t *testing.T, schema, file string) error {
	t.Helper()
	s, err := jsonschema.NewCompiler().Compile(filepath.Join("..", "screening", "schema", schema))
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(v)
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestWriteAnalysis(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	a, tr, times := shortAnalysis(t)
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	var stages []string
	files, err := WriteAnalysis(t.Context(), dir, a, tr, Options{Video: true, Progress: func(stage string, done, total int) {
		if done < 0 || total > 0 && done > total {
			t.Errorf("%s: %d of %d", stage, done, total)
		}
		stages = append(stages, stage)
	}})
	if err != nil {
		t.Fatal(err)
	}
	if got := names(t, parent); !slices.Equal(got, []string{"out"}) {
		t.Errorf("beside the result stands %v", got)
	}
	if got := names(t, dir); !slices.Equal(got, []string{"analysis.json", "annotated.mp4", "frames", "keypoints.json", "series.csv"}) {
		t.Errorf("the result holds %v", got)
	}
	if len(stages) < len(times) || len(files.Warnings) != 0 {
		t.Errorf("%d reports of progress, warnings %v", len(stages), files.Warnings)
	}

	t.Run("analysis.json", func(t *testing.T) {
		if err := schemaErr(t, "analysis.schema.json", files.Analysis); err != nil {
			t.Error(err)
		}
		b, err := os.ReadFile(files.Analysis)
		if err != nil {
			t.Fatal(err)
		}
		var back screening.Analysis
		if err := json.Unmarshal(b, &back); err != nil {
			t.Fatal(err)
		}
		if back.Reps[0].BottomS != a.Reps[0].BottomS || len(back.Series.TimeS) != len(a.Series.TimeS) || !math.IsNaN(back.Reps[0].TakeoffS) {
			t.Error("the analysis reads back as another one")
		}
	})
	t.Run("series.csv", func(t *testing.T) {
		f, err := os.Open(files.Series)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll() // checks that all rows are equally long
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != 1+len(times) || len(rows[0]) != 3+33*3+7+6 {
			t.Fatalf("%d rows of %d cells", len(rows), len(rows[0]))
		}
		column := map[string]int{}
		for i, name := range rows[0] {
			column[name] = i
		}
		m := newMotion(a)
		for i, s := range times {
			row := rows[i+1]
			if got, _ := strconv.ParseFloat(row[column["time_s"]], 64); math.Abs(got-s) > 1e-6 || row[0] != strconv.Itoa(i) {
				t.Errorf("row %d is frame %s at %v s", i, row[0], got)
			}
			want := m.value(a.Series.AnglesDeg[body.KneeFlexion], s)
			cell := row[column["knee_flexion_deg"]]
			if m.missing(s) {
				if cell != "" || row[column["missing"]] != "true" {
					t.Errorf("row %d: the missing angle is %q", i, cell)
				}
				continue
			}
			if got, err := strconv.ParseFloat(cell, 64); err != nil || math.Abs(got-want) > 1e-3 {
				t.Errorf("row %d: knee %q, want %.4f", i, cell, want)
			}
			if r := m.rep(s); (r != nil) != (row[column["rep"]] != "") || r != nil && row[column["phase"]] == "" {
				t.Errorf("row %d: rep %q, phase %q", i, row[column["rep"]], row[column["phase"]])
			}
		}
		if rows[1][column["nose_x_px"]] != "" || rows[1][column["right_knee_x_px"]] == "" {
			t.Error("a point that was not seen has a value, or one that was has none")
		}
	})
	t.Run("keypoints.json", func(t *testing.T) {
		b, err := os.ReadFile(files.Keypoints)
		if err != nil {
			t.Fatal(err)
		}
		var coco struct {
			Images []struct {
				ID     int
				Width  int
				Time_s float64
			}
			Annotations []struct {
				Image_id, Category_id, Num_keypoints int
				Keypoints                            []float64
				BBox                                 []float64
			}
			Categories []struct {
				Name      string
				Keypoints []string
				Skeleton  [][2]int
			}
		}
		if err := json.Unmarshal(b, &coco); err != nil {
			t.Fatal(err)
		}
		if len(coco.Images) != len(times) || len(coco.Annotations) != len(times) || len(coco.Categories) != 1 {
			t.Fatalf("%d images, %d annotations", len(coco.Images), len(coco.Annotations))
		}
		c := coco.Categories[0]
		if len(c.Keypoints) != 33 || len(c.Skeleton) != 16 || c.Keypoints[c.Skeleton[4][0]-1] != "left_hip" || c.Keypoints[c.Skeleton[4][1]-1] != "left_knee" {
			t.Errorf("category %+v", c)
		}
		for i, an := range coco.Annotations {
			if len(an.Keypoints) != 99 || an.Image_id != coco.Images[i].ID || an.Num_keypoints != 16 || len(an.BBox) != 4 {
				t.Fatalf("annotation %d: %d numbers, %d points", i, len(an.Keypoints), an.Num_keypoints)
			}
			knee := slices.Index(c.Keypoints, "right_knee")
			if an.Keypoints[knee*3+2] != 2 || an.Keypoints[2] != 0 || math.Abs(an.Keypoints[knee*3]-tr.Poses[i].Keypoints[knee].X) > 1e-3 {
				t.Errorf("annotation %d: knee %v, nose %v", i, an.Keypoints[knee*3:knee*3+3], an.Keypoints[:3])
			}
		}
	})
	t.Run("annotated.mp4", func(t *testing.T) {
		got := videoTimes(t, files.Video)
		if len(got) != len(times) {
			t.Fatalf("%d pictures, want %d", len(got), len(times))
		}
		for i := range got {
			if math.Abs(got[i]-times[i]) > 0.001 {
				t.Errorf("picture %d at %.4f s, want %.4f s", i, got[i], times[i])
			}
		}
	})
	t.Run("frames", func(t *testing.T) {
		want := []string{"rep01_1_start_fast.png", "rep01_1_start_fast_close.jpg", "rep01_2_bottom_fast.png",
			"rep01_2_bottom_fast_close.jpg", "rep01_7_stand_fast.png", "rep01_7_stand_fast_close.jpg"}
		if got := names(t, filepath.Join(dir, "frames")); !slices.Equal(got, want) || len(files.Frames) != 3 || len(files.CloseUps) != 3 {
			t.Fatalf("stills %v", got)
		}
		f, err := os.Open(files.Frames[1])
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		img, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		if img.Bounds().Dx() < shortestSidePx {
			t.Errorf("a small clip's still is %d pixels wide", img.Bounds().Dx())
		}
	})
	t.Run("without a track", func(t *testing.T) {
		files, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), a, nil, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if files.Keypoints != "" || files.Video != "" || len(files.Frames) != 3 {
			t.Errorf("%+v", files)
		}
	})
	t.Run("without a clip", func(t *testing.T) {
		b := *a
		b.Clip.Path = filepath.Join(t.TempDir(), "gone.mp4")
		files, err := WriteAnalysis(t.Context(), dir, &b, tr, Options{Video: true})
		if err != nil {
			t.Fatal(err)
		}
		if len(files.Warnings) != 1 || files.Video != "" || !strings.Contains(screening.Say(files.Warnings[0]), "no such file") {
			t.Errorf("%+v", files)
		}
		if got := names(t, dir); slices.Contains(got, "annotated.mp4") {
			t.Error("the video of the earlier result is still there")
		}
	})
	t.Run("another clip under its name", func(t *testing.T) {
		b := *a
		b.Clip.SHA256 = strings.Repeat("ab", 32)
		files, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), &b, tr, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(files.Warnings) != 1 || len(files.Frames) != 0 || !strings.Contains(screening.Say(files.Warnings[0]), "another file") {
			t.Errorf("%+v", files)
		}
	})
	t.Run("a clip cut short", func(t *testing.T) {
		b := *a
		b.Clip.Path = shortClip(t, times[:30])
		files, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), &b, tr, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range files.Frames {
			if strings.Contains(name, "stand") {
				t.Errorf("a still of a moment beyond the end: %s", name)
			}
		}
	})
	t.Run("a file in slow motion", func(t *testing.T) {
		// The file plays four times slower than the movement was.
		b := *a
		b.Clip.SlowMotionFactor = 4
		slow := *tr
		slow.Poses = slices.Clone(tr.Poses)
		stretched := slices.Clone(times)
		for i := range stretched {
			stretched[i] *= 4
			slow.Poses[i].TimeS = stretched[i]
		}
		b.Clip.Path = shortClip(t, stretched)
		files, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), &b, &slow, Options{Video: true})
		if err != nil {
			t.Fatal(err)
		}
		got := videoTimes(t, files.Video)
		if len(files.Frames) != 3 || math.Abs(got[len(got)-1]-stretched[len(stretched)-1]) > 0.001 {
			t.Errorf("%d stills, the video ends at %.3f s", len(files.Frames), got[len(got)-1])
		}
		ours, err := os.ReadFile(files.Series)
		if err != nil {
			t.Fatal(err)
		}
		row := strings.Split(strings.Split(string(ours), "\n")[11], ",")
		if row[1] != strconv.FormatFloat(times[10], 'f', 6, 64) || row[2] != strconv.FormatFloat(stretched[10], 'f', 6, 64) {
			t.Errorf("frame 10 is at %s s of the movement and %s s of the file", row[1], row[2])
		}
	})
	t.Run("an empty analysis", func(t *testing.T) {
		empty := &screening.Analysis{Schema: screening.AnalysisSchema, Program: "p", Facing: "left", NearSide: "left",
			Clip: screening.ClipInfo{Name: "a.mp4", Path: a.Clip.Path, WidthPx: 320, HeightPx: 180}, Model: screening.ModelInfo{Name: "m"}}
		files, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), empty, &vision.Track{}, Options{Video: true})
		if err != nil {
			t.Fatal(err)
		}
		if err := schemaErr(t, "analysis.schema.json", files.Analysis); err != nil {
			t.Error(err)
		}
	})
}

func videoTimes(t *testing.T, path string) []float64 {
	t.Helper()
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v:0", "-show_entries", "frame=pts_time", "-of", "csv=p=0", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var times []float64
	for _, s := range strings.Fields(string(out)) {
		v, err := strconv.ParseFloat(strings.Trim(s, ","), 64)
		if err != nil {
			t.Fatal(err)
		}
		times = append(times, v)
	}
	sort.Float64s(times)
	return times
}

func TestWriteComparison(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	c := truthComparison(t)
	for i := range c.Pairs {
		c.Pairs[i].BaselineRep, c.Pairs[i].ChallengeRep = 1, 1 // early in the clip
	}
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	files, err := WriteComparison(t.Context(), dir, c, Options{Date: "25 November 2026"})
	if err != nil {
		t.Fatal(err)
	}
	if err := schemaErr(t, "comparison.schema.json", files.Comparison); err != nil {
		t.Error(err)
	}
	want := []string{"athlete.html", "athlete.pdf", "coach.pdf", "comparison.json", "curves.svg", "overlay.png", "overlay_fast_jump.png", "overlay_slow_fast.png", "overlay_slow_jump.png", "report.html"}
	if got := names(t, dir); !slices.Equal(got, want) || len(files.Warnings) != 0 {
		t.Errorf("the result holds %v, warnings %v", got, files.Warnings)
	}
	b, err := os.ReadFile(files.Report)
	if err != nil {
		t.Fatal(err)
	}
	html := string(b)
	for _, part := range []string{
		"<b>Ankle:</b> 28° slow, 14° jumping, 14° lost (11 to 16). At the bottom 32° slow, 22° jumping. First lost at: fast.",
		"Camera 3° ± 8° from side-on; phone&#39;s picture turned 2° clockwise (from lines in the background), which is taken out; the camera stood still.",
		`<span class="q fair">fair</span>`, "All reps: film at 120 frames a second.", `<th scope="row">1 fast<span class="iv">1.05 ± 0.04 s</span></th>`,
		`<td>99°<span class="iv">95 to 104</span>`,
		"Invented Athlete", "25 November 2026", "fast.mp4 has 5 pictures", "95 % interval", "not a medical device",
		"data:image/jpeg;base64,", "data:image/svg&#43;xml;base64,", "Stop on pain",
	} {
		if !strings.Contains(html, part) && !strings.Contains(html, strings.ReplaceAll(part, "&#43;", "+")) {
			t.Errorf("the page lacks %q", part)
		}
	}
	// Self-contained: nothing is fetched, and nothing runs.
	if m := regexp.MustCompile(`(?i)<script|<link|@import|src="(?:[^d"]|d[^a])|url\(|https?://`).FindString(html); m != "" {
		t.Errorf("the page holds %q", m)
	}
}

// TestSideBySide writes the video of one short pair.
func TestSideBySide(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	a, _, _ := shortAnalysis(t)
	b := *a
	b.Facing = "left" // mirrored
	c := truthComparison(t)
	c.Analyses = []*screening.Analysis{a, &b}
	c.Pairs = c.Pairs[:1]
	c.Pairs[0].BaselineClip, c.Pairs[0].ChallengeClip, c.Pairs[0].BaselineRep, c.Pairs[0].ChallengeRep = 0, 1, 1, 1
	a.Reps[0].Tempo = "slow"
	a.Reps[0].EndS = 1.35
	files, err := WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), c, Options{Video: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(files.SideBySide) != 1 || filepath.Base(files.SideBySide[0]) != "sidebyside.mp4" || filepath.Base(files.Overlay) != "overlay.png" {
		t.Fatalf("%+v", files)
	}
	times := videoTimes(t, files.SideBySide[0])
	// 0.65 s at a quarter of the speed, and two seconds of halt.
	if got, want := times[len(times)-1], 0.65*4+2; math.Abs(got-want) > 0.15 {
		t.Errorf("the video is %.2f s long, want %.2f", got, want)
	}
}

func TestWriteComparisonWithoutClips(t *testing.T) {
	c := truthComparison(t)
	for _, a := range c.Analyses {
		a.Clip.Path = filepath.Join(t.TempDir(), a.Clip.Name)
	}
	files, err := WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), c, Options{Video: true})
	if err != nil {
		t.Fatal(err)
	}
	if files.Report == "" || files.Curves == "" || files.Overlay != "" || len(files.SideBySide) != 0 || len(files.Warnings) == 0 {
		t.Errorf("%+v", files)
	}
	b, err := os.ReadFile(files.Report)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(b), "No pictures or video of slow.mp4") {
		t.Error("the page does not say that the clip is gone")
	}

	c.Analyses = nil
	if files, err = WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), c, Options{}); err != nil || files.Curves != "" || len(files.Warnings) != 3 {
		t.Errorf("without analyses: %+v, %v", files, err)
	}
	nothing := &screening.Comparison{Schema: screening.ComparisonSchema, Program: "p"}
	if files, err = WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), nothing, Options{}); err != nil {
		t.Fatal(err)
	}
	if err := schemaErr(t, "comparison.schema.json", files.Comparison); err != nil {
		t.Error(err)
	}
	if _, err := WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), nil, Options{}); err == nil {
		t.Error("no comparison was written without error")
	}
}

// TestPageEscapes: names come from files and forms, and must stay words.
func TestPageEscapes(t *testing.T) {
	c := truthComparison(t)
	c.Athlete = `<script>alert(1)</script>`
	c.Clips[0].Name = `"><img src=x>`
	c.Warnings[0].Message = `<b onclick="x">`
	b, err := (&page{c: c, warnings: c.Warnings}).sheet().html()
	if err != nil {
		t.Fatal(err)
	}
	if s := string(b); strings.Contains(s, "<script>") || strings.Contains(s, "<img src=x") || strings.Contains(s, "<b onclick") {
		t.Error("a name became part of the page's code")
	}
}

func TestSentences(t *testing.T) {
	n := math.NaN()
	fast := "fast"
	for _, tc := range []struct {
		name                     string
		base, chal, lost, lo, hi float64
		verdict                  stats.Verdict
		baseline, chtemp         string
		first                    *string
		want                     string
	}{
		{"lost", 34.2, 25.1, 9.1, 6.2, 12.3, "lost", "slow", "jump", &fast, "Ankle: 34° slow, 25° jumping, 9° lost (6 to 12). First lost at: fast."},
		{"held", 34, 32, 2, 0.2, 4, "held", "slow", "fast", nil, "Ankle: 34° slow, 32° fast, held (2° less, 0 to 4)."},
		{"gained", 30, 37, -7, -10, -4, "gained", "slow", "jump", nil, "Ankle: 30° slow, 37° jumping, 7° gained (4 to 10)."},
		{"unclear", 34, 30, 4, -1, 9, "unclear", "fast", "jump", nil, "Ankle: 34° fast, 30° jumping, unclear (4° less, −1 to 9)."},
		{"unclear, more", 30, 34, -4, -9, 1, "unclear", "fast", "jump", nil, "Ankle: 30° fast, 34° jumping, unclear (4° more, −1 to 9)."},
		{"the same", 30, 30, 0.2, -1.2, 1.6, "held", "slow", "fast", nil, "Ankle: 30° slow, 30° fast, held (the same, −1 to 2)."},
		{"not measured", 30, n, n, n, n, "unclear", "slow", "jump", nil, "Ankle: 30° slow, not measured jumping."},
		{"no interval", 34, 25, 9, n, n, "unclear", "slow", "jump", nil, "Ankle: 34° slow, 25° jumping, unclear (9° less, interval not known)."},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := &screening.Comparison{}
			c.FirstLost[body.AnkleJoint], c.Pairs = tc.first, []kinematics.Pair{{Baseline: tc.baseline, Challenge: tc.chtemp}}
			num := func(v float64) float64 { return v }
			c.Pairs[0].Joints[body.AnkleJoint] = kinematics.JointChange{BaselineROMDeg: num(tc.base), ChallengeROMDeg: num(tc.chal), LostDeg: num(tc.lost),
				Interval95Deg: [2]float64{num(tc.lo), num(tc.hi)}, Verdict: tc.verdict, BaselineBottomDeg: n, ChallengeBottomDeg: n}
			if got := Headlines(c)[0].Sentence; got != tc.want {
				t.Errorf("got  %q\nwant %q", got, tc.want)
			}
			ch := &c.Pairs[0].Joints[body.AnkleJoint]
			ch.BaselineBottomDeg, ch.ChallengeBottomDeg, ch.BaselineZeroKnown = 36, 41, true
			if got, want := Headlines(c)[0].Sentence, " At the bottom 36° "+tc.baseline+", 41°† "; !strings.Contains(got, want) {
				t.Errorf("%q does not say %q", got, want)
			}
		})
	}
	if Headlines(&screening.Comparison{}) != nil {
		t.Error("sentences without a pair")
	}
	if i := headlinePair(truthComparison(t)); i != 1 {
		t.Errorf("the headline compares pair %d, want slow against jump", i)
	}
}

func TestSchemasAreStrict(t *testing.T) {
	for _, tc := range []struct {
		schema string
		value  any
	}{
		{"analysis.schema.json", func() any { a, _ := truthAnalysis(t, "fast", "fast"); return withoutNil(a) }()},
		{"comparison.schema.json", withoutNil(truthComparison(t))},
	} {
		b, err := json.Marshal(tc.value)
		if err != nil {
			t.Fatal(err)
		}
		check := func(change func(map[string]any)) error {
			var m map[string]any
			if err := json.Unmarshal(b, &m); err != nil {
				t.Fatal(err)
			}
			change(m)
			out, err := json.Marshal(m)
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "a.json")
			if err := os.WriteFile(path, out, 0o644); err != nil {
				t.Fatal(err)
			}
			return schemaErr(t, tc.schema, path)
		}
		if err := check(func(map[string]any) {}); err != nil {
			t.Errorf("%s refuses a good file: %v", tc.schema, err)
		}
		if check(func(m map[string]any) { m["extra"] = 1 }) == nil {
			t.Errorf("%s accepts a field it does not know", tc.schema)
		}
		for _, key := range []string{"schema", "program", "warnings"} {
			if check(func(m map[string]any) { delete(m, key) }) == nil {
				t.Errorf("%s accepts a file without %s", tc.schema, key)
			}
		}
	}
}

func TestMotionReadsBetweenSamples(t *testing.T) {
	n := math.NaN()
	a := &screening.Analysis{Facing: "left", Series: screening.Series{
		Angles: joints.Angles{RateHz: 10, TimeS: []float64{0, 0.1, 0.2, 0.3},
			AnglesDeg: body.AngleSeries{body.KneeFlexion: {0, 10, n, 30}}},
		PointsPx: map[string]body.Path{"knee": {X: []float64{1, 2, 3, 4}, Y: []float64{5, 6, 7, 8}}},
		Filled:   []bool{false, true, false, false}, Missing: []bool{false, false, false, true}}}
	m := newMotion(a)
	for _, tc := range []struct{ timeS, want float64 }{
		{0, 0}, {0.05, 5}, {0.1, 10}, {0.12, math.NaN()}, {0.2, math.NaN()}, {0.3, 30}, {-0.05, 0}, {-5, math.NaN()}, {0.35, 30}, {9, math.NaN()}, {math.NaN(), math.NaN()},
	} {
		got := m.value(a.Series.AnglesDeg[body.KneeFlexion], tc.timeS)
		if math.Abs(got-tc.want) > 1e-9 || math.IsNaN(got) != math.IsNaN(tc.want) {
			t.Errorf("at %v s: %v, want %v", tc.timeS, got, tc.want)
		}
	}
	if p := m.point("knee", 0.05); math.Abs(p.X-1.5) > 1e-9 || !m.point("knee", 0.3).Missing() || !m.point("toe", 0.1).Missing() {
		t.Errorf("points: %v", p)
	}
	// The picture of the second sample lies 10 pixels to the left of the first
	// one: what is in the first at 2 is in it at -8.
	a.Series.Camera = []*vision.Similarity{{Scale: 1}, {Scale: 1, DXPx: 10}, nil, nil}
	if p, q := m.point("knee", 0.1), m.pointSeen("knee", 0, 0.1); math.Abs(p.X+8) > 1e-9 || math.Abs(q.X+9) > 1e-9 {
		t.Errorf("points with a moving camera: %v and %v, want -8 and -9", p, q)
	}
	if p := m.point("knee", 0.2); math.Abs(p.X-3) > 1e-9 {
		t.Errorf("point without a place of the camera: %v", p)
	}
	a.Series.Camera = nil
	if m.filled(0.04) || !m.filled(0.06) || !m.missing(0.29) || m.missing(0.1) || !m.missing(7) {
		t.Error("the flags of the nearest sample do not hold")
	}
	if newMotion(&screening.Analysis{}).rep(1) != nil || !newMotion(&screening.Analysis{}).missing(0) {
		t.Error("an empty analysis knows something")
	}
}

// TestArcEndsAtTheLimb: the wedge lies between the limb and the zero line, on the
// side that the joint bends to, for both facings.
func TestArcEndsAtTheLimb(t *testing.T) {
	for _, forward := range []float64{1, -1} {
		c, err := vision.NewCanvas(200, 200, ground)
		if err != nil {
			t.Fatal(err)
		}
		// A knee bent by 90°: thigh level and forward, shank down.
		b := fitted{forward: forward, points: map[string]vision.XY{
			"hip": {X: 100 - 60*forward, Y: 100}, "knee": {X: 100, Y: 100}, "ankle": {X: 100, Y: 160}}}
		b.deg = [numJoints]float64{math.NaN(), 90, math.NaN()}
		b.arc(c, knee, 1)
		in, out := int(100+14*forward), int(100-14*forward)
		if c.At(in, 114) == ground || c.At(out, 114) != ground || c.At(in, 86) != ground {
			t.Errorf("facing %v: the wedge is in the wrong quarter", forward)
		}
		_ = c.Close()
	}
}

func TestLabelsKeepApart(t *testing.T) {
	b := fitted{forward: 1, points: map[string]vision.XY{"hip": {X: 60, Y: 172}, "knee": {X: 80, Y: 180}, "ankle": {X: 70, Y: 178}}}
	box := [4]float64{0, 0, 360, 200}
	ls := b.jointLabels(func(j joint) (string, string) { return j.name() + " 104°", "9° less (6 to 12)" }, 1, box)
	if len(ls) != 3 {
		t.Fatalf("%d labels", len(ls))
	}
	for i, p := range ls {
		if p.box[0] < box[0] || p.box[1] < box[1] || p.box[2] > box[2] || p.box[3] > box[3] {
			t.Errorf("%q leaves the picture: %v", p.text, p.box)
		}
		for _, q := range ls[:i] {
			if p.box[0] < q.box[2] && q.box[0] < p.box[2] && p.box[1] < q.box[3] && q.box[1] < p.box[3] {
				t.Errorf("%q covers %q", p.text, q.text)
			}
		}
	}
}

func TestDegreeScale(t *testing.T) {
	n := math.NaN()
	for _, tc := range []struct {
		name         string
		in           []float64
		lo, hi, step float64
	}{
		{"knee", []float64{5, 107, n}, 0, 135, 45},
		{"ankle", []float64{4, 25}, 0, 30, 10},
		{"pointed foot", []float64{-46, 25}, -60, 30, 30},
		{"nothing", []float64{n}, 0, 90, 45},
		{"knee just below zero", []float64{-1, 93}, 0, 135, 45},
		{"still", []float64{40, 40}, 40, 70, 10},
	} {
		lo, hi, step := degreeScale(tc.in)
		if lo != tc.lo || hi != tc.hi || step != tc.step {
			t.Errorf("%s: %v to %v by %v, want %v to %v by %v", tc.name, lo, hi, step, tc.lo, tc.hi, tc.step)
		}
	}
}

func TestNilAnalysis(t *testing.T) {
	if _, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), nil, nil, Options{}); err == nil || errors.Is(err, ErrCannotWrite) {
		t.Errorf("got %v", err)
	}
}

func TestAdvice(t *testing.T) {
	const more, back = "film_at_120", "move_back"
	for _, tc := range []struct {
		name   string
		advice []string
		want   string
	}{
		{"all good", []string{"", ""}, ""},
		{"one", []string{"", more, ""}, "Rep 2: film at 120 frames a second."},
		{"all", []string{more, more}, "All reps: film at 120 frames a second."},
		{"two and one", []string{more, back, more, more}, "Reps 1, 3 and 4: film at 120 frames a second.|Rep 2: move 2 m further back: the whole body must be in the picture, and the toe is not."},
		{"a single rep", []string{back}, "Rep 1: move 2 m further back: the whole body must be in the picture, and the toe is not."},
	} {
		a := &screening.Analysis{}
		for i, s := range tc.advice {
			a.Reps = append(a.Reps, kinematics.Rep{RepTimes: events.RepTimes{Number: i + 1}, Quality: joints.Quality{Advice: notice.New(s, notice.Params{"point": "toe"})}})
		}
		if got := strings.Join(Advice(a), "|"); got != tc.want {
			t.Errorf("%s: %q, want %q", tc.name, got, tc.want)
		}
	}
}

// Every position has all its words.
func TestPositionWords(t *testing.T) {
	for _, p := range kinematics.Squat().Positions {
		v := reflect.ValueOf(PositionWords(p))
		for i := range v.NumField() {
			if s := fmt.Sprint(v.Field(i)); s == "" || strings.Contains(s, "  ") {
				t.Errorf("%v: %s is %q", p, v.Type().Field(i).Name, s)
			}
		}
	}
}

func TestOwnSmallestChange(t *testing.T) {
	n := math.NaN()
	c := truthComparison(t)
	if got := OwnSmallestChange(c); got != "" {
		t.Errorf("filmed once: %q", got)
	}
	c.MDC95Deg = &body.ByJoint[float64]{body.KneeJoint: 7.6, body.HipJoint: 2.44, body.AnkleJoint: n}
	if got, want := OwnSmallestChange(c), "This athlete's own smallest detectable change: knee 8°, hip 2.4°."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	b, err := (&page{c: c}).sheet().html()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(b), "own smallest detectable change: knee 8°") {
		t.Error("the page does not tell the athlete's own smallest change")
	}
	c.MDC95Deg = &body.ByJoint[float64]{body.KneeJoint: n, body.HipJoint: n, body.AnkleJoint: n}
	if got := OwnSmallestChange(c); got != "" {
		t.Errorf("nothing known: %q", got)
	}
}

func TestViewWords(t *testing.T) {
	n := math.NaN()
	for _, tc := range []struct {
		view screening.View
		want string
	}{
		{screening.View{View: trace.View{YawDeg: n, SDDeg: n}}, "How far the camera stood from side-on is not known; phone taken to be upright; the background does not show whether the camera moved."},
		{screening.View{View: trace.View{YawDeg: -12.3, SDDeg: 4, RollDeg: -3.2, RollSource: "flight"}, CameraKnown: true, CameraMoved: true, CameraMotionPx: 41.3},
			"Camera 12° ± 8° from side-on; phone's picture turned 3° anticlockwise (from the flight of a jump), which is taken out; the camera moved by up to 41 pixels, which is taken out."},
		{screening.View{View: trace.View{YawDeg: 2, SDDeg: 4, RollDeg: 0.1, RollSource: "given"}, CameraKnown: true},
			"Camera 2° ± 8° from side-on; phone upright (as given); the camera stood still."},
	} {
		if got := viewWords(&tc.view); got != tc.want {
			t.Errorf("%q, want %q", got, tc.want)
		}
	}
}
