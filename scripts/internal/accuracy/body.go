package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"holdfast/kinematics/events"
	"holdfast/kinematics/measure"
	"holdfast/screening"
)

const (
	gravityMS2 = 9.81
	// cameraForwardM is how far forward of the origin that the truth counts from
	// the camera of the rendered clips stands.
	cameraForwardM = 0.02
	// The heel and toe points of the truth lie this far inside the ends of the shoe.
	heelInsideM, toeInsideM = 0.012, 0.015
	// A bottom is where the knee is within this of its place there: a body comes to
	// rest so softly that no instant is the bottom.
	plateauDeg = 1.0
	// calmS is for how long to either side the body must be calm for a part of a quick
	// clip to count as slow.
	calmS = 0.2
	// bendS is the time to either side over which the true acceleration is read.
	bendS = 0.05
)

// measured is one of the numbers that the athlete's whole body gives, with what is
// aimed at.
type measured struct {
	name, unit string
	aim        float64
	// errs holds one error a reading, in unit; inside counts the readings whose 95 %
	// interval holds the truth, of intervals that there are.
	errs              []float64
	missing           int
	inside, intervals int
}

// add takes one reading. A missing one is counted apart.
func (m *measured) add(err float64) {
	if math.IsNaN(err) {
		m.missing++
		return
	}
	m.errs = append(m.errs, err)
}

// holds takes one interval and the truth it should hold.
func (m *measured) holds(from, to, truth float64) bool {
	if math.IsNaN(from + to) {
		return false
	}
	m.intervals++
	in := from <= truth && truth <= to
	if in {
		m.inside++
	}
	return in
}

func (m *measured) worst() float64 {
	w := math.NaN()
	for _, e := range m.errs {
		if !(math.Abs(e) <= w) {
			w = math.Abs(e)
		}
	}
	return w
}

// body gathers the measures over the clips.
type fitted struct {
	flight, heightFlight, heightRise, heel, takeoff, contact measured
	bottom, landing, massMean, massWorst, supportMean        measured
}

func newBody() *fitted {
	return &fitted{
		flight:       measured{name: "flight time", unit: "frame", aim: 1},
		heightFlight: measured{name: "jump height by flight time", unit: "cm", aim: 2},
		heightRise:   measured{name: "jump height by rise of the centre of mass", unit: "cm", aim: 2},
		heel:         measured{name: "heel rise, largest of a rep", unit: "cm", aim: 1},
		takeoff:      measured{name: "take-off", unit: "frame", aim: 1},
		contact:      measured{name: "first contact", unit: "frame", aim: 1},
		bottom:       measured{name: "bottom", unit: "frame", aim: 1},
		landing:      measured{name: "landing bottom", unit: "frame", aim: 1},
		massMean:     measured{name: "centre of mass, mean over a clip", unit: "cm", aim: 2},
		massWorst:    measured{name: "centre of mass, worst sample of a clip", unit: "cm", aim: 2},
		supportMean:  measured{name: "support point in slow parts, mean over a clip", unit: "% of foot", aim: 8},
	}
}

func (b *fitted) all() []*measured {
	return []*measured{&b.flight, &b.heightFlight, &b.heightRise, &b.heel, &b.massMean, &b.massWorst, &b.supportMean,
		&b.takeoff, &b.contact, &b.bottom, &b.landing}
}

func printBody(w io.Writer, names []string, analyses map[string]*screening.Analysis, truths map[string]*truth) {
	b := newBody()
	b.printJumps(w, names, analyses, truths)
	b.printFeet(w, names, analyses, truths)
	b.printMass(w, names, analyses, truths)
	fmt.Fprintln(w, "Against what is aimed at. Worst: the largest error of any reading; holds: 95 % intervals that hold "+
		"the truth. Readings of one\n"+
		"athlete have much in common, so that their number says little of other athletes.")
	t := newTable(w)
	fmt.Fprintln(t, "measure\taim\twithin the aim\tworst\tholds")
	for _, m := range b.all() {
		if len(m.errs) == 0 {
			continue
		}
		within := 0
		for _, e := range m.errs {
			if math.Abs(e) <= m.aim {
				within++
			}
		}
		missing := ""
		if m.missing > 0 {
			missing = fmt.Sprintf(" (%d missing)", m.missing)
		}
		holds := "no interval is given"
		if m.intervals > 0 {
			holds = fmt.Sprintf("%d of %d", m.inside, m.intervals)
			if m.intervals > 100 {
				holds = fmt.Sprintf("%.0f %% of the samples", 100*float64(m.inside)/float64(m.intervals))
			}
		}
		fmt.Fprintf(t, "%s\t%g %s\t%d of %d%s\t%.1f\t%s\n", m.name, m.aim, m.unit, within, len(m.errs),
			missing, m.worst(), holds)
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// printJumps compares the flights.
func (b *fitted) printJumps(w io.Writer, names []string, analyses map[string]*screening.Analysis,
	truths map[string]*truth) {
	fmt.Fprintln(w, "Jumps, a rep each; in brackets: the 95 % interval misses the truth. Flight time in frames and "+
		"milliseconds, take-off and first\n"+
		"contact in milliseconds, heights in cm by g t^2/8 and by how far the centre of mass rises after take-off.")
	t := newTable(w)
	fmt.Fprintln(t, "clip\ttrue height cm\tflight frames\tflight ms\ttake-off ms\tcontact ms\theight by flight\t"+
		"height by rise")
	for _, name := range names {
		a, tr := analyses[name], truths[name]
		if a == nil || tr.Reps[0].Takeoff == nil || tr.Reps[0].Bottom != nil {
			continue
		}
		rate := a.Clip.FrameRateHz
		var cells [7][]string
		for i, j := range matched(a, tr) {
			want := &tr.Reps[i]
			if j < 0 || a.Reps[j].Jump == nil || want.Takeoff == nil || want.Touchdown == nil {
				for _, m := range []*measured{&b.flight, &b.heightFlight, &b.heightRise, &b.takeoff, &b.contact} {
					m.add(math.NaN())
				}
				for k := range cells {
					cells[k] = append(cells[k], "none")
				}
				continue
			}
			r := &a.Reps[j]
			jump := r.Jump
			cell := func(k int, m *measured, format string, err, shown float64, from, to float64, truth float64) {
				m.add(err)
				s := fmt.Sprintf(format, shown)
				if !m.holds(from, to, truth) {
					s = "(" + s + ")"
				}
				cells[k] = append(cells[k], s)
			}
			takeoff, contact := *want.Takeoff-tr.originS(), *want.Touchdown-tr.originS()
			height := 100 * measure.JumpHeightM(want.FlightS)
			rise := 100 * want.RiseM
			cells[0] = append(cells[0], fmt.Sprintf("%.0f/%.0f", height, rise))
			late := jump.FlightS - want.FlightS
			cell(1, &b.flight, "%+.1f", rate*late, rate*late, jump.FlightInterval95S[0], jump.FlightInterval95S[1], want.FlightS)
			cells[2] = append(cells[2], fmt.Sprintf("%+.0f", 1000*late))
			around := func(atS, sdS float64) (from, to float64) { return atS - 1.96*sdS, atS + 1.96*sdS }
			late = r.TakeoffS - takeoff
			from, to := around(r.TakeoffS, r.TimeSDS.TakeoffS)
			cell(3, &b.takeoff, "%+.0f", rate*late, 1000*late, from, to, takeoff)
			late = r.ContactS - contact
			from, to = around(r.ContactS, r.TimeSDS.ContactS)
			cell(4, &b.contact, "%+.0f", rate*late, 1000*late, from, to, contact)
			off := 100*jump.HeightFromFlightM - height
			cell(5, &b.heightFlight, "%+.1f", off, off, 100*jump.HeightFromFlightInterval95M[0],
				100*jump.HeightFromFlightInterval95M[1], height)
			off = 100*jump.RiseM - rise
			cell(6, &b.heightRise, "%+.1f", off, off, 100*jump.RiseInterval95M[0], 100*jump.RiseInterval95M[1], rise)
		}
		row := []string{name}
		for _, c := range cells {
			row = append(row, strings.Join(c, " "))
		}
		fmt.Fprintln(t, strings.Join(row, "\t"))
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// printFeet compares heels and bottoms.
func (b *fitted) printFeet(w io.Writer, names []string, analyses map[string]*screening.Analysis,
	truths map[string]*truth) {
	fmt.Fprintf(w, "Heel rise, the largest under load, and bottoms, a rep each; in brackets: the 95 %% interval misses "+
		"the truth. Bottoms: milliseconds\n"+
		"outside the time in which the true knee is within %.0f degree of its place at the bottom (0 is right), and "+
		"milliseconds from where the\n"+
		"true movement down ends; for a jump out of the last landing's hold, from where its push begins.\n", plateauDeg)
	t := newTable(w)
	fmt.Fprintln(t, "clip\ttrue heel cm\theel error cm\tbottom outside ms\tfrom end ms\tlanding outside ms\tfrom end ms")
	for _, name := range names {
		a, tr := analyses[name], truths[name]
		if a == nil {
			continue
		}
		rate := a.Clip.FrameRateHz
		var trueHeel, heel, bottom, bottomEnd, landing, landingEnd []string
		for i, j := range matched(a, tr) {
			if j < 0 {
				b.heel.add(math.NaN())
				b.bottom.add(math.NaN())
				continue
			}
			r := &a.Reps[j]
			up := 100 * tr.heelRise(r.Loaded)
			trueHeel = append(trueHeel, decimal(up))
			if r.Foot != nil {
				rise := r.Foot.Heel.MaxCm
				b.heel.add(rise.Value - up)
				s := fmt.Sprintf("%+.1f", rise.Value-up)
				if !b.heel.holds(rise.Interval95()[0], rise.Interval95()[1], up) {
					s = "(" + s + ")"
				}
				heel = append(heel, s)
			}
			at := func(m *measured, foundS, sdS, fromS, toS, endS float64) (out, end string) {
				softFrom, softTo := tr.within(fromS, toS)
				off := outside(foundS, softFrom, softTo)
				m.add(rate * off)
				// The interval may hold any instant of the plateau.
				end = fmt.Sprintf("%+.0f", 1000*(foundS-endS))
				if !m.holds(foundS-1.96*sdS, foundS+1.96*sdS, max(softFrom, min(softTo, foundS))) {
					end = "(" + end + ")"
				}
				return fmt.Sprintf("%+.0f", math.Round(1000*off)+0), end
			}
			from, to := tr.plateau(i)
			ends := from
			if i > 0 && tr.Reps[i].Bottom == nil {
				ends = to
			}
			out, end := at(&b.bottom, r.BottomS, r.TimeSDS.BottomS, from, to, ends)
			bottom, bottomEnd = append(bottom, out), append(bottomEnd, end)
			if tr.Reps[i].Bottom == nil {
				lands := tr.Reps[i].LandBottom - tr.originS()
				rests := lands
				if i+1 < len(tr.Reps) {
					rests = tr.Reps[i+1].PushStart - tr.originS()
				}
				sd := math.NaN()
				if r.Landing != nil {
					sd = r.Landing.ContactToBottomS.SD
				}
				out, end := at(&b.landing, r.LandingBottomS, sd, lands, rests, lands)
				landing, landingEnd = append(landing, out), append(landingEnd, end)
			}
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", name, strings.Join(trueHeel, " "), strings.Join(heel, " "),
			strings.Join(bottom, " "), strings.Join(bottomEnd, " "), strings.Join(landing, " "), strings.Join(landingEnd, " "))
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

// printMass compares the centre of mass and the support point.
func (b *fitted) printMass(w io.Writer, names []string, analyses map[string]*screening.Analysis,
	truths map[string]*truth) {
	fmt.Fprintf(w, "Centre of mass, cm from the true one in the picture, by the program's own table of masses (the true "+
		"one was made with another: Dempster's).\n"+
		"Support point in slow parts, per cent of the foot's length: all of the slow clips, in the others standing and "+
		"holding still with heels down\n"+
		"for %.1f s to either side. Holds: samples whose 95 %% interval holds the truth.\n", calmS)
	t := newTable(w)
	fmt.Fprintln(t, "clip\tmass mean\tforward\tup\tworst\tin flight\tsupport mean %\t95 % of samples\tbias\tknown\tholds")
	for _, name := range names {
		a, tr := analyses[name], truths[name]
		if a == nil {
			continue
		}
		m := massErrors(a, tr)
		b.massMean.add(m.mean)
		b.massWorst.add(m.worst)
		slow := tempoOf(name) == events.TempoSlow.String()
		s := supportErrors(a, tr, slow)
		b.supportMean.add(s.mean)
		b.supportMean.inside += s.inside
		b.supportMean.intervals += s.known
		flight := "-"
		if !math.IsNaN(m.flight) {
			flight = decimal(m.flight)
		}
		fmt.Fprintf(t, "%s\t%.1f\t%+.1f\t%+.1f\t%.1f\t%s\t%.1f\t%.1f\t%+.1f\t%.0f %%\t%.0f %%\n", name, m.mean,
			m.forward, m.up, m.worst, flight,
			s.mean, s.most, s.bias, 100*float64(s.known)/float64(s.samples), 100*float64(s.inside)/float64(s.known))
	}
	_ = t.Flush()
	fmt.Fprintln(w)
}

type massError struct{ mean, forward, up, worst, flight float64 }

// massErrors returns how far the centre of mass is from the true one, cm.
func massErrors(a *screening.Analysis, t *truth) massError {
	var e massError
	var n, flown float64
	mpp := t.Camera.metresPerPx()
	for i := range t.Frames {
		f := &t.Frames[i]
		x := t.Camera.Principal[0] + t.sign()*(f.MassForwardM-cameraForwardM)/mpp
		y := t.Camera.Principal[1] - (f.MassUpM-t.Camera.HeightM)/mpp
		at := f.shownS() - t.originS()
		dx := 100 * mpp * t.sign() * (atTime(a.Series.TimeS, a.Series.MassCentrePx.X, at) - x)
		dy := -100 * mpp * (atTime(a.Series.TimeS, a.Series.MassCentrePx.Y, at) - y)
		if math.IsNaN(dx + dy) {
			continue
		}
		d := math.Hypot(dx, dy)
		n++
		e.mean, e.forward, e.up, e.worst = e.mean+d, e.forward+dx, e.up+dy, max(e.worst, d)
		if f.Phase == "flight" {
			e.flight, flown = e.flight+d, flown+1
		}
	}
	e.mean, e.forward, e.up, e.flight = e.mean/n, e.forward/n, e.up/n, e.flight/flown
	return e
}

type supportError struct {
	mean, most, bias       float64
	samples, known, inside int
}

// supportErrors returns how far the support point is from the true one, per cent
// of the foot, in the slow parts. The true one is x - z ax/(az+g) of the true
// centre of mass over the true foot; the turning of the body, which moves it by less
// than 1 % in slow parts, is left out.
func supportErrors(a *screening.Analysis, t *truth, slow bool) supportError {
	var e supportError
	var errs []float64
	first := &t.Frames[0]
	mpp := t.Camera.metresPerPx()
	end := func(point string) float64 {
		middle := (first.Points["left_"+point][0] + first.Points["right_"+point][0]) / 2
		return t.sign()*(middle-t.Camera.Principal[0])*mpp + cameraForwardM
	}
	heel, toe := end("heel")-heelInsideM, end("big_toe")+toeInsideM
	for i := range t.Frames {
		f := &t.Frames[i]
		if !slow && !t.calmAt(i) {
			continue
		}
		e.samples++
		up, forward := t.acceleration(i)
		moved := t.sign() * mpp * (f.Points[t.Near+"_heel"][0] - first.Points[t.Near+"_heel"][0])
		want := 100 * (f.MassForwardM - f.MassUpM*forward/(up+gravityMS2) - heel - moved) / (toe - heel)
		at := f.shownS() - t.originS()
		got, sd := atTime(a.Series.TimeS, a.Series.SupportPct, at), atTime(a.Series.TimeS, a.Series.SupportSDPct, at)
		if math.IsNaN(got) {
			continue
		}
		e.known++
		e.bias += got - want
		errs = append(errs, math.Abs(got-want))
		if math.Abs(got-want) <= 1.96*sd {
			e.inside++
		}
	}
	for _, v := range errs {
		e.mean += v / float64(len(errs))
	}
	e.bias /= float64(e.known)
	if slices.Sort(errs); len(errs) > 0 {
		e.most = errs[min(len(errs)-1, len(errs)*95/100)]
	} else {
		e.mean, e.most = math.NaN(), math.NaN()
	}
	return e
}
