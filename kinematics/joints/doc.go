// Package joints says what the joints did, in degrees with their uncertainty, from the
// clean points of a clip ([trace.Trace]) and the events in it:
//
//	Smooth        the clip's points as one smooth [Motion] with its angles: one body
//	              fitted to all samples, or each point filtered by itself
//	RepAngles     minimum, maximum, range and bottom of each angle over the loaded part
//	              of a rep, and how far noise, network, view and filter may have put
//	              them wrong
//	QualityOf     how well the clip shows a rep, and what to film instead
//
// Every stage is a function of what other stages found, and of nothing else. Lengths are
// pixels of the upright picture or leg lengths (thigh plus shank); angles are degrees.
package joints
