// Package report makes a finished result visible: the analysis of a clip as
// annotated video, still pictures and tables, and a comparison of tempos as
// video side by side, an overlay, curves, a page for the coach and one for the athlete,
// both to read on a screen and as PDF.
//
// A result is written as one folder, in one step ([holdfast/report/resultdir]). What it consists of is made in rooms,
// and put together here:
//
//	said        sentences and numbers
//	resultdir   a folder that is built aside and exchanged in one step
//	motion      an analysis, read at any time
//	chart       charts, for page, paper and file alike
//	drawn       the athlete's body in a picture
//	annotate    the annotated video and stills of a clip
//	sidebyside  two reps against each other
//	pages       the coach's and the athlete's page
//	pdf         the same on paper
package report
