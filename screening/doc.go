// Package screening makes one result from start to end. It is the only package that knows both pictures and sums:
//
//	clip  -> [Analyze]   -> *Analysis    every rep of a clip, with its angles, ranges, jumps and what is doubted
//	      -> [Compare]   -> *Comparison  what is lost between slow, fast and jump, or between two days
//	      -> history.Of                  every position over the visits
//
// [Measure] does what Analyze does with a track that is there already, and [MeasureAgain] with a coach's
// [Corrections], both without looking at the pictures again.
//
// Results are plain data. [EncodeJSON] writes them, [LoadAnalysis] reads an analysis back, and folder schema holds
// their JSON Schema. Angles are in degrees, times in seconds from the clip's start, points in pixels of the upright
// picture; a missing number is NaN in Go and null in JSON. Signs and words are those of package kinematics.
package screening
