package desk

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"holdfast/archive"
	"holdfast/desk/refusal"
	"holdfast/kinematics"
	"holdfast/printable"
	"holdfast/screening"
	"holdfast/screening/sets"
	"holdfast/screening/setting"
	"holdfast/words"
)

const (
	// ComparisonFile is the name of a comparison's numbers.
	ComparisonFile = "comparison.json"
	comparedFile   = "made_from.json"
	// maxCompared is how many clips are compared at most.
	maxCompared = 3
	// usualChangeDeg is the smallest change that matters where nothing else is said.
	usualChangeDeg = 5
)

// comparedFrom is what a comparison was made of. It lies beside it, and tells
// whether a clip was corrected since.
type comparedFrom struct {
	// Results are the hashes of the analyses, in the order of the clips.
	Results           []string `json:"analyses_sha256"`
	SmallestChangeDeg float64  `json:"smallest_change_deg"`
	// Sides are what the clips differ in other than tempo, see screening.CompareOptions.
	Sides []string `json:"sides,omitempty"`
	// Axis is that in which the sides differ: it follows from the visits.
	Axis kinematics.Axis `json:"-"`
	// Dates are those of the clips' visits.
	Dates []string `json:"dates,omitempty"`
	// Retest is the clip in which the easiest test was filmed a second time, and RetestResult the hash of its analysis;
	// empty: none was.
	Retest       string `json:"retest,omitempty"`
	RetestResult string `json:"retest_sha256,omitempty"`
	// Fronts are the hashes of the analyses of the same sets from the front.
	Fronts []string `json:"fronts_sha256,omitempty"`
	// Apart says of some of the clips that they are joined with one from the front, and of the others that they are not.
	Apart []screening.Warning `json:"apart,omitempty"`

	fronts []archive.Clip
}

func (c comparedFrom) same(as comparedFrom) bool {
	return slices.Equal(c.Results, as.Results) && slices.Equal(c.Sides, as.Sides) && slices.Equal(c.Dates, as.Dates) &&
		c.SmallestChangeDeg == as.SmallestChangeDeg && c.RetestResult == as.RetestResult &&
		slices.Equal(c.Fronts, as.Fronts) && len(c.Apart) == len(as.Apart)
}

// key names what is made of it and shows this, the athlete's name and marks made by hand.
func (c comparedFrom) key(shown string) string {
	text := fmt.Sprintf("%s %g %q %q %s%s", strings.Join(c.Results, " "), c.SmallestChangeDeg, c.Sides, c.Dates, shown,
		c.RetestResult)
	if len(c.Fronts)+len(c.Apart) > 0 {
		text += fmt.Sprintf(" %q %v", c.Fronts, c.Apart)
	}
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:4])
}

// Compared is a comparison as it is now: of the clips' present results and visits.
type Compared struct {
	archive.Comparison
	Clips   []archive.Clip
	Fronts  []archive.Clip // of the same sets from the front, in the order of Clips; nil: they are not joined
	Athlete archive.Athlete
	// Numbers are a screening.Comparison as JSON.
	Numbers []byte
	// Old: the numbers are those of earlier results, until all clips are measured with one network and calibration.
	Old bool

	from   comparedFrom
	marks  []json.RawMessage // made by hand on each clip
	key    string            // names the files made of it
	stored bool              // the archive has these numbers
}

// Choice is what a coach wants compared.
type Choice struct {
	Clips []string `json:"clips"` // ids, all measured and of one athlete
	// SmallestChangeDeg is the smallest change that matters; 0: the usual one, 5°.
	SmallestChangeDeg float64 `json:"smallest_change_deg"`
	// Retest is a clip in which the easiest test was filmed a second time: it gives the athlete's own smallest
	// detectable change; empty: none.
	Retest string `json:"retest"`
	// InOrder: the clips are given from the easiest to the hardest. Else they are put in order by what was said of them.
	InOrder bool `json:"in_order"`
}

// Compare compares clips and keeps the comparison.
func (d *Desk) Compare(ctx context.Context, want Choice) (archive.Comparison, error) {
	var none archive.Comparison
	smallestChangeDeg, retest := want.SmallestChangeDeg, want.Retest
	if len(want.Clips) > 2*maxCompared { // each with the one that it is joined with
		return none, refusal.Wrong("compare_how_many", words.Params{"most": maxCompared})
	}
	clipIDs, err := d.Joined.SidesFirst(ctx, want.Clips)
	switch {
	case err != nil:
		return none, err
	case len(clipIDs) == 0 || len(clipIDs) > maxCompared:
		return none, refusal.Wrong("compare_how_many", words.Params{"most": maxCompared})
	case smallestChangeDeg == 0:
		smallestChangeDeg = usualChangeDeg
	case !(smallestChangeDeg > 0 && smallestChangeDeg <= 90):
		return none, refusal.Wrong("smallest_change", nil)
	}
	clips, err := d.clipsToCompare(ctx, clipIDs)
	if err == nil && retest != "" { // of the same athlete too, and none of the others
		_, err = d.clipsToCompare(ctx, append(slices.Clone(clipIDs), retest))
	}
	if err != nil {
		return none, err
	}
	if !want.InOrder {
		if clips, err = d.easiestFirst(ctx, clips); err != nil {
			return none, err
		}
	}
	from, err := d.comparedNow(ctx, clips, smallestChangeDeg, retest)
	if err != nil {
		return none, err
	}
	numbers, err := d.compare(ctx, clips, from)
	if err != nil {
		return none, err
	}
	files, err := d.putNumbers(ctx, numbers, from)
	if err != nil {
		return none, err
	}
	var ids []string
	for _, c := range clips {
		ids = append(ids, c.ID)
	}
	c, err := d.archive.SaveComparison(ctx, clips[0].AthleteID, ids, files)
	if err == nil {
		d.log.Info("clips were compared", "comparison", c.ID)
	}
	return c, err
}

// clipsToCompare finds clips, all measured and all of one athlete.
func (d *Desk) clipsToCompare(ctx context.Context, ids []string) ([]archive.Clip, error) {
	var clips []archive.Clip
	for i, id := range ids {
		if slices.Contains(ids[:i], id) {
			return nil, refusal.Wrong("same_clip", nil)
		}
		c, err := d.Measured(ctx, id)
		if err != nil {
			return nil, err
		}
		if i > 0 && c.AthleteID != clips[0].AthleteID {
			return nil, refusal.Wrong("different_athletes", nil)
		}
		clips = append(clips, c)
	}
	return clips, nil
}

// visitsOf returns the visit of each clip.
func (d *Desk) visitsOf(ctx context.Context, clips []archive.Clip) (visits []archive.Visit, err error) {
	for _, c := range clips {
		v, err := d.Visit(ctx, c.VisitID)
		if err != nil {
			return nil, err
		}
		visits = append(visits, v)
	}
	return visits, nil
}

func loadOf(v archive.Visit) float64 {
	if v.LoadKg == nil {
		return 0
	}
	return *v.LoadKg
}

// easiestFirst sorts clips by condition, load and date: where it is not tempos that are
// compared, the first is the baseline.
func (d *Desk) easiestFirst(ctx context.Context, clips []archive.Clip) ([]archive.Clip, error) {
	visits, err := d.visitsOf(ctx, clips)
	if err != nil {
		return nil, err
	}
	of := map[string]archive.Visit{}
	for i, c := range clips {
		of[c.ID] = visits[i]
	}
	clips = slices.Clone(clips)
	slices.SortStableFunc(clips, func(a, b archive.Clip) int {
		v, w := of[a.ID], of[b.ID]
		return cmp.Or(cmp.Compare(kinematics.StateOf(v.Condition).Rank, kinematics.StateOf(w.Condition).Rank),
			cmp.Compare(loadOf(v), loadOf(w)), setting.Harder(&a.Setting, &b.Setting), cmp.Compare(v.Date, w.Date))
	})
	return clips, nil
}

// comparedNow says what a comparison of the clips would be made of.
func (d *Desk) comparedNow(
	ctx context.Context, clips []archive.Clip, smallestDeg float64, retest string,
) (comparedFrom, error) {
	from := comparedFrom{SmallestChangeDeg: smallestDeg}
	// A retest that was deleted since takes its smallest change along.
	if again, err := d.archive.Clip(ctx, retest); err == nil && again.Result != nil {
		from.Retest, from.RetestResult = again.ID, measuredAs(again)
	}
	for _, c := range clips {
		from.Results = append(from.Results, measuredAs(c))
	}
	visits, err := d.visitsOf(ctx, clips)
	var sets []setting.Set
	for i, v := range visits {
		sets = append(sets, setting.Set{State: v.Condition, LoadKg: loadOf(v), Loaded: v.LoadKg != nil, Date: v.Date,
			Setting: clips[i].Setting})
	}
	from.Sides, from.Axis, from.Dates = setting.Sides(sets)
	if err == nil {
		from.fronts, from.Apart, err = d.Joined.FrontsOf(ctx, clips)
	}
	for _, f := range from.fronts {
		from.Fronts = append(from.Fronts, measuredAs(f))
	}
	return from, err
}

// compare compares the present results of clips.
func (d *Desk) compare(ctx context.Context, clips []archive.Clip, from comparedFrom) ([]byte, error) {
	analyses, err := d.allCompared(clips)
	fronts, also := d.allCompared(from.fronts)
	if err = errors.Join(err, also); err != nil {
		return nil, err
	}
	how := screening.CompareOptions{SmallestChangeDeg: from.SmallestChangeDeg, Sides: from.Sides, Axis: from.Axis,
		Dates: from.Dates}
	if from.Retest != "" {
		again, err := d.Measured(ctx, from.Retest)
		if err == nil {
			how.Retest, err = d.Analysis(again)
		}
		if err != nil {
			return nil, err
		}
	}
	comparison, err := sets.Compare(analyses, fronts, how)
	if err != nil {
		return nil, err
	}
	comparison.Warnings = append(comparison.Warnings, from.Apart...)
	if comparison.Retest != nil {
		comparison.Retest.Path, comparison.Retest.Analysis = "", ""
	}
	for _, one := range []*screening.Comparison{comparison, comparison.Fronts} {
		for i := 0; one != nil && i < len(one.Clips); i++ {
			one.Clips[i].Path, one.Clips[i].Analysis = "", ""
		}
	}
	return document(comparison)
}

// document writes a value as the JSON of a file.
func document(v any) ([]byte, error) {
	text, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return nil, fmt.Errorf("writing the comparison: %w", err)
	}
	return append(printable.JSON(text), '\n'), nil
}

// allCompared are the analyses of clips as they are compared.
func (d *Desk) allCompared(clips []archive.Clip) (out []*screening.Analysis, err error) {
	for _, c := range clips {
		a, err := d.compared(c)
		if err != nil {
			return nil, err
		}
		out = append(out, a)
	}
	return out, nil
}

// compared is the analysis of a clip as it is compared: under the name that the archive has for it, and without the
// athlete's, which stays in the archive's own row.
func (d *Desk) compared(c archive.Clip) (*screening.Analysis, error) {
	a, err := d.Analysis(c)
	if err != nil {
		return nil, err
	}
	mine := *a // the desk's is shared
	mine.Clip.Name, mine.Clip.Path, mine.Athlete = c.Name, "", ""
	mine.Setting = c.Setting.OrNil()
	return &mine, nil
}

// Axis returns what the sides of the comparison differ in, which its numbers do not hold.
func (c *Compared) Axis() kinematics.Axis { return c.from.Axis }

// putNumbers puts the numbers of a comparison into the archive, and what they are made of.
func (d *Desk) putNumbers(ctx context.Context, numbers []byte, from comparedFrom) ([]archive.File, error) {
	note, err := document(from)
	if err != nil {
		return nil, err
	}
	var files []archive.File
	for _, doc := range []struct {
		name string
		text []byte
	}{{ComparisonFile, numbers}, {comparedFile, note}} {
		f, err := d.archive.Put(ctx, bytes.NewReader(doc.text), maxFileBytes)
		if err != nil {
			return nil, err
		}
		f.Name = doc.name
		files = append(files, f)
	}
	return files, nil
}

// Comparison returns a comparison as it is now. Nothing is written: when a clip of it was
// corrected since it was kept, its clips are compared anew here, and the report that is
// made next keeps that.
func (d *Desk) Comparison(ctx context.Context, id string) (Compared, error) {
	c, err := d.archive.Comparison(ctx, id)
	if err != nil {
		return Compared{}, refusal.NoSuch("comparison", err)
	}
	now := Compared{Comparison: c}
	if now.Clips, err = d.clipsToCompare(ctx, c.ClipIDs); err != nil {
		return now, err
	}
	was, err := d.comparedFrom(ctx, c)
	if err != nil {
		return now, err
	}
	if now.from, err = d.comparedNow(ctx, now.Clips, was.SmallestChangeDeg, was.Retest); err != nil {
		return now, err
	}
	now.Fronts = now.from.fronts
	if now.Athlete, err = d.Athlete(ctx, c.AthleteID); err != nil {
		return now, err
	}
	shown := now.Athlete.Name
	for _, k := range now.Clips {
		marks, err := d.archive.Marks(ctx, k.ID)
		if err != nil {
			return now, err
		}
		now.marks = append(now.marks, marks)
		shown += string(marks)
	}
	now.key, now.stored = now.from.key(shown), was.same(now.from)
	now.Numbers, err = d.comparisons.Get(now.from.key("")+" "+id, func() ([]byte, error) {
		if now.stored {
			return d.readNumbers(ctx, c)
		}
		return d.compare(ctx, now.Clips, now.from)
	})
	if errors.Is(err, screening.ErrDifferentNetworks) && FileOf(c.Files, comparedFile).SHA256 != "" {
		was.Axis = now.from.Axis
		now.from, now.key, now.stored, now.Old = was, was.key(shown), true, true
		now.Fronts = nil
		now.Numbers, err = d.readNumbers(ctx, c)
	}
	return now, err
}

func (d *Desk) readNumbers(ctx context.Context, c archive.Comparison) ([]byte, error) {
	f, err := d.archive.OpenFile(ctx, FileOf(c.Files, ComparisonFile).SHA256)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		return nil, fmt.Errorf("reading a comparison: %w", err)
	}
	return text, nil
}

// comparedFrom reads what a stored comparison was made of.
func (d *Desk) comparedFrom(ctx context.Context, c archive.Comparison) (comparedFrom, error) {
	var from comparedFrom
	f := FileOf(c.Files, comparedFile)
	if f.SHA256 == "" {
		return comparedFrom{SmallestChangeDeg: usualChangeDeg}, nil // made by another program: compared anew
	}
	return from, d.readNote(ctx, f, &from)
}

// DeleteComparison removes a comparison with what was made of it.
func (d *Desk) DeleteComparison(ctx context.Context, id string) error {
	if err := d.cancelReports(ctx, id); err != nil {
		return err
	}
	return refusal.NoSuch("comparison", d.archive.DeleteComparison(ctx, id))
}

// dropReports removes what was made of an athlete's comparisons to be shared: it names
// the athlete as they were called.
func (d *Desk) dropReports(ctx context.Context, athleteID string) error {
	list, err := d.archive.ComparisonsOf(ctx, athleteID)
	if err != nil {
		return err
	}
	for _, c := range list {
		if err := d.dropReportsOf(ctx, c.ID); err != nil && !errors.Is(err, archive.ErrNotFound) {
			return err
		}
	}
	return nil
}

func (d *Desk) dropReportsOf(ctx context.Context, id string) error {
	back, err := d.turns.Take(ctx, id)
	if err != nil {
		return err
	}
	defer back()
	c, err := d.archive.Comparison(ctx, id)
	if err != nil {
		return err
	}
	return d.archive.ReplaceComparisonFiles(ctx, id, slices.DeleteFunc(c.Files, isReport))
}
