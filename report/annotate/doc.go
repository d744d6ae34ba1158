// Package annotate makes the annotated video of a clip, its stills and its close-ups. Nothing covers the
// athlete: words stand above the picture, the weight on the foot and the curves below or beside it. What is drawn about
// the centre of mass, the heel and the height of a jump is white on a dark rim and needs no colour.
package annotate
