package report

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"holdfast/internal/compared"
	"holdfast/internal/pixels"
	"holdfast/kinematics/body"
	"holdfast/report/motion"
	"holdfast/report/pages"
	"holdfast/report/resultdir"
	"holdfast/report/said"
	"holdfast/screening"
	"holdfast/vision/pose"
)

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
	a, tr, times := compared.Short(t)
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	var stages []string
	files, err := WriteAnalysis(t.Context(), dir, a, tr,
		Options{Video: true, Progress: func(stage string, done, total int) {
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
	if got := names(t, dir); !slices.Equal(got, []string{"analysis.json", "annotated.mp4", "frames",
		"keypoints.json", "series.csv"}) {
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
		if back.Reps[0].BottomS != a.Reps[0].BottomS || len(back.Series.TimeS) != len(a.Series.TimeS) ||
			!math.IsNaN(back.Reps[0].TakeoffS) {
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
		if len(rows) != 1+len(times) || len(rows[0]) != 3+33*3+7+8 {
			t.Fatalf("%d rows of %d cells", len(rows), len(rows[0]))
		}
		column := map[string]int{}
		for i, name := range rows[0] {
			column[name] = i
		}
		m := motion.New(a)
		for i, s := range times {
			row := rows[i+1]
			if got, _ := strconv.ParseFloat(row[column["time_s"]], 64); math.Abs(got-s) > 1e-6 || row[0] != strconv.Itoa(i) {
				t.Errorf("row %d is frame %s at %v s", i, row[0], got)
			}
			want := m.Value(a.Series.AnglesDeg[body.KneeFlexion], s)
			cell := row[column["knee_flexion_deg"]]
			if m.Missing(s) {
				if cell != "" || row[column["missing"]] != "true" {
					t.Errorf("row %d: the missing angle is %q", i, cell)
				}
				continue
			}
			if got, err := strconv.ParseFloat(cell, 64); err != nil || math.Abs(got-want) > 1e-3 {
				t.Errorf("row %d: knee %q, want %.4f", i, cell, want)
			}
			if r := m.Rep(s); (r != nil) != (row[column["rep"]] != "") || r != nil && row[column["phase"]] == "" {
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
		if len(c.Keypoints) != 33 || len(c.Skeleton) != 16 || c.Keypoints[c.Skeleton[4][0]-1] != "left_hip" ||
			c.Keypoints[c.Skeleton[4][1]-1] != "left_knee" {
			t.Errorf("category %+v", c)
		}
		for i, an := range coco.Annotations {
			if len(an.Keypoints) != 99 || an.Image_id != coco.Images[i].ID || an.Num_keypoints != 16 || len(an.BBox) != 4 {
				t.Fatalf("annotation %d: %d numbers, %d points", i, len(an.Keypoints), an.Num_keypoints)
			}
			knee := slices.Index(c.Keypoints, "right_knee")
			if an.Keypoints[knee*3+2] != 2 || an.Keypoints[2] != 0 ||
				math.Abs(an.Keypoints[knee*3]-tr.Poses[i].Keypoints[knee].X) > 1e-3 {
				t.Errorf("annotation %d: knee %v, nose %v", i, an.Keypoints[knee*3:knee*3+3], an.Keypoints[:3])
			}
		}
	})
	t.Run("annotated.mp4", func(t *testing.T) {
		got := pixels.VideoTimes(t, files.Video)
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
		if got := names(t, filepath.Join(dir, "frames")); !slices.Equal(got, want) || len(files.Frames) != 3 ||
			len(files.CloseUps) != 3 {
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
		if img.Bounds().Dx() < 540 {
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
		if len(files.Warnings) != 1 || files.Video != "" ||
			!strings.Contains(screening.Say(files.Warnings[0]), "no such file") {
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
		if len(files.Warnings) != 1 || len(files.Frames) != 0 ||
			!strings.Contains(screening.Say(files.Warnings[0]), "another file") {
			t.Errorf("%+v", files)
		}
	})
	t.Run("a clip cut short", func(t *testing.T) {
		b := *a
		b.Clip.Path = compared.ShortClip(t, times[:30])
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
		b.Clip.Path = compared.ShortClip(t, stretched)
		files, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), &b, &slow, Options{Video: true})
		if err != nil {
			t.Fatal(err)
		}
		got := pixels.VideoTimes(t, files.Video)
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
			Clip:  screening.ClipInfo{Name: "a.mp4", Path: a.Clip.Path, WidthPx: 320, HeightPx: 180},
			Model: screening.ModelInfo{Name: "m"}}
		files, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), empty,
			&pose.Track{}, Options{Video: true})
		if err != nil {
			t.Fatal(err)
		}
		if err := schemaErr(t, "analysis.schema.json", files.Analysis); err != nil {
			t.Error(err)
		}
	})
}

func TestWriteComparison(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	c := compared.Truth(t)
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
	want := []string{"athlete.html", "athlete.pdf", "coach.pdf", "comparison.json", "curves.svg", "overlay.png",
		"overlay_fast_jump.png", "overlay_slow_fast.png", "overlay_slow_jump.png", "report.html"}
	if got := names(t, dir); !slices.Equal(got, want) || len(files.Warnings) != 0 {
		t.Errorf("the result holds %v, warnings %v", got, files.Warnings)
	}
	b, err := os.ReadFile(files.Report)
	if err != nil {
		t.Fatal(err)
	}
	html := string(b)
	for _, part := range []string{
		"Ankle at the bottom: 32° slow, 22° jumping, ",
		"Range of motion: 28° slow, 14° jumping, 14° lost (11 to 16). First lost at: fast.",
		"Camera 3° ± 8° from side-on; phone&#39;s picture turned 2° clockwise (from lines in the background), " +
			"which is taken out; the camera stood still.",
		`<span class="q fair">fair</span>`, "All reps: film at 120 frames a second.",
		`<th scope="row">1 fast<span class="iv">1.05 ± 0.04 s</span></th>`,
		`<td>99°<span class="iv">95 to 104</span>`,
		"Invented Athlete", "25 November 2026", "fast.mp4 has 5 pictures", "95 % interval", "not a medical device",
		"data:image/jpeg;base64,", `<svg class="chart"`, "Stop on pain",
	} {
		if !strings.Contains(html, part) {
			t.Errorf("the page lacks %q", part)
		}
	}
	// Self-contained: nothing is fetched, and nothing runs.
	foreign := regexp.MustCompile(`(?i)<script|<link|@import|src="(?:[^d"]|d[^a])|url\(|https?://`)
	if m := foreign.FindString(html); m != "" {
		t.Errorf("the page holds %q", m)
	}
}

// TestSideBySide writes the video of one short pair.
func TestSideBySide(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it makes videos")
	}
	a, _, _ := compared.Short(t)
	b := *a
	b.Facing = "left" // mirrored
	c := compared.Truth(t)
	c.Analyses = []*screening.Analysis{a, &b}
	c.Pairs = c.Pairs[:1]
	c.Pairs[0].BaselineClip, c.Pairs[0].ChallengeClip, c.Pairs[0].BaselineRep, c.Pairs[0].ChallengeRep = 0, 1, 1, 1
	a.Reps[0].Tempo = "slow"
	a.Reps[0].EndS = 1.35
	files, err := WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), c, Options{Video: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(files.SideBySide) != 1 || filepath.Base(files.SideBySide[0]) != "sidebyside.mp4" ||
		filepath.Base(files.Overlay) != "overlay.png" {
		t.Fatalf("%+v", files)
	}
	times := pixels.VideoTimes(t, files.SideBySide[0])
	// 0.65 s at a quarter of the speed, and two seconds of halt.
	if got, want := times[len(times)-1], 0.65*4+2; math.Abs(got-want) > 0.15 {
		t.Errorf("the video is %.2f s long, want %.2f", got, want)
	}
}

func TestWriteComparisonWithoutClips(t *testing.T) {
	c := compared.Truth(t)
	for _, a := range c.Analyses {
		a.Clip.Path = filepath.Join(t.TempDir(), a.Clip.Name)
	}
	files, err := WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), c, Options{Video: true})
	if err != nil {
		t.Fatal(err)
	}
	if files.Report == "" || files.Curves == "" || files.Overlay != "" || len(files.SideBySide) != 0 ||
		len(files.Warnings) == 0 {
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
	if files, err = WriteComparison(t.Context(), filepath.Join(t.TempDir(), "out"), c, Options{}); err != nil ||
		files.Curves != "" || len(files.Warnings) != 3 {
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
	c := compared.Truth(t)
	c.Athlete = `<script>alert(1)</script>`
	c.Clips[0].Name = `"><img src=x>`
	c.Warnings[0].Message = `<b onclick="x">`
	b, err := (&pages.Material{Comparison: c, Warnings: c.Warnings}).Coach().HTML()
	if err != nil {
		t.Fatal(err)
	}
	if s := string(b); strings.Contains(s, "<script>") || strings.Contains(s, "<img src=x") ||
		strings.Contains(s, "<b onclick") {
		t.Error("a name became part of the page's code")
	}
}

func TestSchemasAreStrict(t *testing.T) {
	for _, tc := range []struct {
		schema string
		value  any
	}{
		{"analysis.schema.json", func() any { a, _ := compared.Analysis(t, "fast", "fast"); return withoutNil(a) }()},
		{"comparison.schema.json", withoutNil(compared.Truth(t))},
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

func TestNilAnalysis(t *testing.T) {
	if _, err := WriteAnalysis(t.Context(), filepath.Join(t.TempDir(), "out"), nil, nil, Options{}); err == nil ||
		errors.Is(err, resultdir.ErrCannotWrite) {
		t.Errorf("got %v", err)
	}
}

func TestOwnSmallestChange(t *testing.T) {
	n := math.NaN()
	c := compared.Truth(t)
	if got := said.OwnSmallestChange(c); got != "" {
		t.Errorf("filmed once: %q", got)
	}
	c.MDC95Deg = &body.ByJoint[float64]{body.KneeJoint: 7.6, body.HipJoint: 2.44, body.AnkleJoint: n}
	if got, want := said.OwnSmallestChange(c),
		"This athlete's own smallest detectable change: knee 8°, hip 2.4°."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	b, err := (&pages.Material{Comparison: c}).Coach().HTML()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(b), "own smallest detectable change: knee 8°") {
		t.Error("the page does not tell the athlete's own smallest change")
	}
	c.MDC95Deg = &body.ByJoint[float64]{body.KneeJoint: n, body.HipJoint: n, body.AnkleJoint: n}
	if got := said.OwnSmallestChange(c); got != "" {
		t.Errorf("nothing known: %q", got)
	}
}

// TestFailuresKeepTheEarlierResult: whatever goes wrong, an earlier result stays whole.
func TestFailuresKeepTheEarlierResult(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the full run: it draws whole folders of results")
	}
	a, tr, _ := compared.Short(t)
	parent := t.TempDir()
	dir := filepath.Join(parent, "out")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, resultdir.AnalysisFile), []byte("earlier"), 0o644); err != nil {
		t.Fatal(err)
	}
	untouched := func(t *testing.T) {
		t.Helper()
		if got := names(t, dir); !slices.Equal(got, []string{resultdir.AnalysisFile}) ||
			string(readFile(t, filepath.Join(dir, resultdir.AnalysisFile))) != "earlier" {
			t.Errorf("the earlier result now holds %v", got)
		}
		if got := names(t, parent); !slices.Equal(got, []string{"out"}) {
			t.Errorf("beside the result stands %v", got)
		}
	}
	for _, full := range []string{resultdir.AnalysisFile, "series.csv", "keypoints.json",
		"frames/rep01_2_bottom_fast.png"} {
		t.Run("disk full at "+full, func(t *testing.T) {
			f, err := resultdir.Open(dir, analysisName)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Abort()
			f.Create = func(path string) (io.WriteCloser, error) {
				if strings.HasSuffix(filepath.ToSlash(path), full) {
					return os.OpenFile("/dev/full", os.O_WRONLY, 0)
				}
				return os.Create(path)
			}
			_, err = writeAnalysis(t.Context(), f, a, tr, Options{})
			if !errors.Is(err, resultdir.ErrCannotWrite) || !errors.Is(err, syscall.ENOSPC) {
				t.Errorf("got %v", err)
			}
			f.Abort()
			untouched(t)
		})
	}
	t.Run("stopped", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		_, err := WriteAnalysis(ctx, dir, a, tr, Options{Video: true, Progress: func(stage string, done, _ int) {
			if stage == "pictures" && done == 3 {
				cancel()
			}
		}})
		if !errors.Is(err, context.Canceled) {
			t.Errorf("got %v", err)
		}
		untouched(t)
	})
}
