// Package report makes a finished result visible: the analysis of a clip as
// annotated video, still pictures and tables, and a comparison of tempos as
// video side by side, an overlay, curves, a page for the coach and one for the athlete,
// both to read on a screen and as PDF.
//
// A result is written as one folder. It is built beside its place under a
// temporary name and moved there in one step, so that a failure of any kind
// leaves an earlier result as it was.
//
// A page is first put together as words, numbers, tables and drawings (a sheet), and
// then rendered as HTML or laid out on paper: the two cannot say different things. The
// coach's sheet goes from the ladder over range of motion, landing, foot, jumps, curves
// and coupling to the single reps, the warnings and how far to trust it all; a part
// without data is left out with its heading. The athlete's has one page, few words and
// none of the trade's terms. Pages need nothing else: no script, no network, no file
// beside them. Charts are drawings of this package, so that they follow the reader's
// light or dark colours and are lines, not dots, on paper.
//
// The look follows a few rules. Nothing covers the athlete: words stand above
// the picture and curves below it. The arc drawn at a joint is the angle
// printed beside it. What was filled in where tracking failed is drawn hollow and
// dashed. Knee, hip and ankle differ in colour (the palette of Okabe and Ito,
// 2008, which colour-blind readers can tell apart) and in marker, slow, fast and jump
// in colour and dash, so that a grey print loses nothing. The weight on the foot stands
// below the picture as well, heel and toe on the sides where they are in the picture; what
// is drawn about the centre of mass, the heel and the height of a jump is white on a dark
// rim and needs no colour.
package report
