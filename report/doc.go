// Package report makes a finished result visible: the analysis of a clip as
// annotated video, still pictures and tables, and a comparison of tempos as
// video side by side, an overlay, curves and a page that a coach can read and
// print.
//
// A result is written as one folder. It is built beside its place under a
// temporary name and moved there in one step, so that a failure of any kind
// leaves an earlier result as it was.
//
// The look follows a few rules. Nothing covers the athlete: words stand above
// the picture and curves below it. The arc drawn at a joint is the angle
// printed beside it. What was filled in where tracking failed is drawn hollow and
// dashed. Knee, hip and ankle differ in colour (the palette of Okabe and Ito,
// 2008, which colour-blind readers can tell apart) and in marker, slow, fast and jump
// in colour and dash, so that a grey print loses nothing.
package report
