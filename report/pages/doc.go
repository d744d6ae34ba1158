// Package pages says what the coach's and the athlete's page of a comparison say. A page is first put together
// as words, numbers, tables and drawings (a [Coach] or an [Athlete]) and then rendered: as HTML here, on paper in
// package pdf, so that the two cannot say different things.
//
// The coach's goes from the ladder over range of motion, landing, foot, jumps, curves
// and coupling to the single reps, the warnings and how far to trust it all; a part
// without data is left out with its heading. The athlete's has one page, few words and
// none of the trade's terms. Pages need nothing else: no script, no network, no file
// beside them.
package pages
