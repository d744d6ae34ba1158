package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"holdfast/archive"
	"holdfast/internal/fakework"
	"holdfast/screening"
	"holdfast/vision/pose"
)

const heelMoved = `{"points":[{"frame":1,"point":"heel","side":"near","x_px":1,"y_px":1}],"what":"heel moved"}`

// filesOnDisk counts the archive's files.
func (b *bench) filesOnDisk() (n int) {
	b.t.Helper()
	err := filepath.WalkDir(filepath.Join(b.s.archive.Dir(), "files"), func(_ string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			n++
		}
		return err
	})
	if err != nil {
		b.t.Fatal(err)
	}
	return n
}

// A window that shows an older state takes nothing back that it has not seen.
func TestTwoWindowsCorrect(t *testing.T) {
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	var seen struct {
		Base    string
		Current json.RawMessage
	}
	look := func() { b.want(200, "GET", "/api/clips/"+id, "", &seen) }
	look()
	at := func(path, base string) string { return "/api/clips/" + id + "/corrections" + path + "?base=" + base }
	b.want(200, "POST", at("", seen.Base), heelMoved, nil)
	for _, path := range []string{"", "/undo", "/redo"} { // the other window, which knows nothing of it
		w := b.send("POST", at(path, seen.Base), strings.NewReader(`{"vertical_deg":2}`), nil)
		if w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "another window") {
			t.Errorf("%s on an old state: %d %s", path, w.Code, w.Body)
		}
	}
	look()
	if !strings.Contains(string(seen.Current), "heel") {
		t.Errorf("the first correction is lost: %s", seen.Current)
	}
	// An undo and another correction in its place: there are as many as before.
	before := seen.Base
	b.want(200, "POST", at("/undo", before), "", nil)
	look()
	b.want(200, "POST", at("", seen.Base), `{"vertical_deg":2}`, nil)
	b.want(409, "POST", at("", before), heelMoved, nil)
	look()
	if !strings.Contains(string(seen.Current), "vertical_deg") {
		t.Errorf("the other window's vertical is lost: %s", seen.Current)
	}
}

// A new name changes no number: the pictures stay. A new height changes them.
func TestRenamingKeepsThePictures(t *testing.T) {
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	b.want(200, "PATCH", "/api/clips/"+id, `{"height_cm":180}`, nil)
	b.want(202, "POST", "/api/clips/"+id+"/render", "", nil)
	b.settle()
	for _, step := range []struct {
		change string
		code   int
	}{{`{"name":"renamed.mp4"}`, 200}, {`{"height_cm":170}`, 404}} {
		b.want(200, "PATCH", "/api/clips/"+id, step.change, nil)
		if w := b.send("GET", "/clips/"+id+"/files/annotated.mp4", nil, nil); w.Code != step.code {
			t.Errorf("after %s the video: %d, want %d", step.change, w.Code, step.code)
		}
	}
}

// What is said of a clip and its numbers go together, whoever goes away meanwhile.
func TestChangeOfAClipIsWhole(t *testing.T) {
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	says := func() (tempo string, height *float64, measured string) {
		t.Helper()
		var c struct{ Clip clipView }
		b.want(200, "GET", "/api/clips/"+id, "", &c)
		var a screening.Analysis
		b.want(200, "GET", "/api/clips/"+id+"/analysis", "", &a)
		return c.Clip.Tempo, c.Clip.HeightCm, string(a.Reps[0].Tempo)
	}
	// The page is closed while it is measured.
	ctx, cancel := context.WithCancel(t.Context())
	b.measure = func(i screening.ClipInfo, tr *pose.Track, o screening.Options) (*screening.Analysis, error) {
		cancel()
		return fakework.Measure(i, tr, o)
	}
	b.send("PATCH", "/api/clips/"+id, strings.NewReader(`{"height_cm":180,"tempo":"fast"}`),
		func(r *http.Request) { *r = *r.WithContext(ctx) })
	b.measure = fakework.Measure
	if tempo, height, measured := says(); tempo != "fast" || height == nil || measured != "fast" {
		t.Errorf("the clip is %q, %v cm, its reps are %s", tempo, height, measured)
	}
	// The program is killed between the two: the next one has it measured.
	clip, err := b.s.archive.Clip(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	clip.Tempo = "slow"
	if err := b.s.archive.UpdateClip(t.Context(), clip); err != nil {
		t.Fatal(err)
	}
	b.settle()
	if err := b.s.desk.Resume(t.Context()); err != nil {
		t.Fatal(err)
	}
	b.settle()
	if tempo, _, measured := says(); tempo != "slow" || measured != "slow" {
		t.Errorf("after a kill the clip is %q, its reps are %s", tempo, measured)
	}
	// A change whose words come late takes nothing back that came before them.
	late, words := io.Pipe()
	done := make(chan int)
	go func() { done <- b.send("PATCH", "/api/clips/"+id, late, nil).Code }()
	if _, err := words.Write([]byte(`{"name":`)); err != nil { // it is being read: it has found the clip
		t.Fatal(err)
	}
	b.want(200, "PATCH", "/api/clips/"+id, `{"tempo":"fast","height_cm":170}`, nil)
	if _, err := words.Write([]byte(`"renamed.mp4"}`)); err != nil {
		t.Fatal(err)
	}
	_ = words.Close()
	if code := <-done; code != 200 {
		t.Fatalf("the late change: %d", code)
	}
	if tempo, height, measured := says(); tempo != "fast" || height == nil || *height != 170 || measured != "fast" {
		t.Errorf("after a late change of name the clip is %q, %v cm, its reps are %s", tempo, height, measured)
	}
}

// Reports go with the numbers they were made of and with the name they call the athlete by.
func TestReportsDoNotOutliveTheirNumbers(t *testing.T) {
	b := newBench(t, nil)
	ids := b.measured("slow.mp4", "fast.mp4")
	var made struct{ ID string }
	b.want(201, "POST", "/api/comparisons", fmt.Sprintf(`{"clips":[%q,%q]}`, ids[0], ids[1]), &made)
	reports := func() (folders map[string]bool) {
		t.Helper()
		c, err := b.s.archive.Comparison(t.Context(), made.ID)
		if err != nil {
			t.Fatal(err)
		}
		folders = map[string]bool{}
		for _, f := range c.Files {
			if folder, _, ok := strings.Cut(f.Name, "/"); ok {
				folders[folder] = true
			}
		}
		return folders
	}
	ask := func() {
		t.Helper()
		b.report(made.ID, "coach.pdf")
		if got := reports(); len(got) != 1 {
			t.Errorf("reports lie in %v, want one folder", got)
		}
	}
	ask()
	first := reports()
	b.want(200, "POST", "/api/clips/"+ids[0]+"/corrections", heelMoved, nil)
	ask()
	for k := range first {
		if reports()[k] {
			t.Error("the report of before the correction is still there")
		}
	}
	b.want(200, "POST", "/api/clips/"+ids[0]+"/corrections/undo", "", nil)
	ask() // what was made once and dropped is made again
	c, err := b.s.archive.Comparison(t.Context(), made.ID)
	if err != nil {
		t.Fatal(err)
	}
	b.want(200, "PATCH", "/api/athletes/"+c.AthleteID, `{"name":"Code 17"}`, nil)
	if got := reports(); len(got) != 0 {
		t.Errorf("reports with the old name lie in %v", got)
	}
	ask()
	// The name stands in the athlete's row alone.
	if w := b.send("GET", "/comparisons/"+made.ID+"/files/comparison.json", nil, nil); w.Code != 200 ||
		strings.Contains(w.Body.String(), "Sam Example") {
		t.Errorf("the comparison: %d, names the athlete as they were called: %.300s", w.Code, w.Body)
	}
	b.measure = func(i screening.ClipInfo, tr *pose.Track, o screening.Options) (*screening.Analysis, error) {
		if o.Athlete != "" {
			t.Errorf("the numbers are to name %q", o.Athlete)
		}
		return fakework.Measure(i, tr, o)
	}
	b.want(200, "PATCH", "/api/clips/"+ids[1], `{"tempo":"slow"}`, nil)
}

// What is deleted leaves nothing behind, corrected or not.
func TestDeletedIsGone(t *testing.T) {
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	b.settle()
	b.want(200, "POST", "/api/clips/"+id+"/corrections", heelMoved, nil)
	b.settle()
	var made struct{ ID string }
	b.want(201, "POST", "/api/comparisons", fmt.Sprintf(`{"clips":[%q,%q]}`, id, b.measured("fast.mp4")[0]), &made)
	b.report(made.ID, "coach.pdf")
	clip, err := b.s.archive.Clip(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	b.want(200, "DELETE", "/api/athletes/"+clip.AthleteID, "", nil)
	if n := b.filesOnDisk(); n != 0 {
		t.Errorf("%d files are left", n)
	}
}

// The corrections are shown in the times of the numbers beside them.
func TestCorrectionsFollowTheRateOfFilming(t *testing.T) {
	b := newBench(t, nil)
	id := b.measured("slow.mp4")[0]
	b.measure = func(i screening.ClipInfo, tr *pose.Track, o screening.Options) (*screening.Analysis, error) {
		a, err := fakework.Measure(i, tr, o)
		if err == nil {
			a.Clip.SlowMotionFactor = 1
			if o.CaptureFPS > 0 {
				a.Clip.SlowMotionFactor = o.CaptureFPS / 30
			}
		}
		return a, err
	}
	b.want(200, "POST", "/api/clips/"+id+"/corrections", `{"reps":[{"at_s":0.08,"left_out":true}]}`, nil)
	at := func() float64 {
		t.Helper()
		var c struct{ Current screening.Corrections }
		b.want(200, "GET", "/api/clips/"+id, "", &c)
		return c.Current.Reps[0].AtS
	}
	if got := at(); got != 0.08 {
		t.Errorf("the rep at %v s, want 0.08", got)
	}
	b.want(200, "PATCH", "/api/clips/"+id, `{"capture_fps":60}`, nil)
	if got := at(); got != 0.04 {
		t.Errorf("filmed twice as fast the rep is at %v s, want 0.04", got)
	}
}

// Clips of one tempo are compared by what they differ in otherwise, the easiest first.
func TestCompareConditions(t *testing.T) {
	b := newBench(t, nil)
	loaded := b.upload([]string{"athlete_name=Sam Example", "date=2025-05-02", "condition=loaded", "load_kg=60"},
		"slow b.mp4="+movie("b")).Clips[0]
	fresh := b.upload([]string{"athlete_name=Sam Example", "date=2025-05-02"}, "slow a.mp4="+movie("a")).Clips[0]
	later := b.upload([]string{"athlete_name=Sam Example", "date=2025-06-02"}, "slow c.mp4="+movie("c")).Clips[0]
	for _, c := range []addedClip{loaded, fresh, later} {
		if job := b.await(c.Job); job.State != archive.JobDone {
			t.Fatalf("%s: %s", job.State, job.Error)
		}
	}
	compare := func(ids ...string) (id, words string) {
		t.Helper()
		var made struct{ ID string }
		text, err := json.Marshal(map[string]any{"clips": ids})
		if err != nil {
			t.Fatal(err)
		}
		b.want(201, "POST", "/api/comparisons", string(text), &made)
		return made.ID, b.sides(made.ID)
	}
	id, words := compare(loaded.ID, fresh.ID)
	if words != "fresh, loaded with 60 kg" {
		t.Errorf("compared %q", words)
	}
	// How the set was done, and an order that the coach gives.
	b.want(200, "PATCH", "/api/clips/"+later.ID, `{"movement":"squat","date":"2025-05-02","condition":"fatigued",
		"setting":{"after_reps":20,"footwear":"barefoot"}}`, nil)
	if _, words := compare(later.ID, fresh.ID); words != "fresh, fatigued, after 20 reps, barefoot" {
		t.Errorf("compared %q", words)
	}
	var ordered struct{ ID string }
	b.want(201, "POST", "/api/comparisons", `{"clips":["`+later.ID+`","`+fresh.ID+`"],"in_order":true}`, &ordered)
	if words := b.sides(ordered.ID); words != "fatigued, after 20 reps, barefoot, fresh" {
		t.Errorf("in the coach's order %q", words)
	}
	b.want(400, "PATCH", "/api/clips/"+later.ID, `{"setting":{"exertion_0_10":11}}`, nil)
	b.want(400, "PATCH", "/api/clips/"+later.ID, `{"movement":"flight"}`, nil)
	if _, csv, _ := b.see("/clips/" + later.ID + "/measures.csv"); !strings.Contains(csv, "after 20 reps, barefoot") {
		t.Errorf("the table does not tell of the set: %.200s", csv)
	}
	b.want(200, "PATCH", "/api/clips/"+later.ID, `{"movement":"","date":"2025-06-02","condition":"fresh","setting":{}}`,
		nil)
	days, words2 := compare(later.ID, fresh.ID)
	if words2 != "2025-05-02, 2025-06-02" {
		t.Errorf("compared %q", words2)
	}
	for of, want := range map[string]bool{id: false, days: true} { // two days differ by more than two clips of one
		var v struct{ Comparison screening.Comparison }
		b.want(200, "GET", "/api/comparisons/"+of, "", &v)
		if told := slices.ContainsFunc(v.Comparison.Warnings,
			func(w screening.Warning) bool { return w.Code == "different_days" }); told != want {
			t.Errorf("a comparison of different days %v says so: %v", want, told)
		}
	}
	// What a visit was is put right: the comparison follows.
	b.want(200, "PATCH", "/api/clips/"+loaded.ID, `{"load_kg":40.5}`, nil)
	if words := b.sides(id); words != "fresh, loaded with 40.5 kg" {
		t.Errorf("after the load was put right: %q", words)
	}
}

// A height that is given with the first clip is the athlete's.
func TestHeightOfANewAthlete(t *testing.T) {
	b := newIdleBench(t, nil)
	for _, height := range []string{"181.5", "190"} { // the second is that of one clip
		b.upload([]string{"athlete_name=Tall Example", "height_cm=" + height}, "slow.mp4="+movie(height))
	}
	var list struct{ Athletes []athleteView }
	b.want(200, "GET", "/api/athletes", "", &list)
	if len(list.Athletes) != 1 || list.Athletes[0].HeightCm == nil || *list.Athletes[0].HeightCm != 181.5 {
		t.Errorf("the athletes are %+v", list.Athletes)
	}
}

// sides returns the words of what a comparison's clips differ in.
func (b *bench) sides(id string) string {
	b.t.Helper()
	var v struct{ Comparison screening.Comparison }
	b.want(200, "GET", "/api/comparisons/"+id, "", &v)
	var words []string
	for _, s := range v.Comparison.Sides {
		words = append(words, s.Words)
	}
	return strings.Join(words, ", ")
}
