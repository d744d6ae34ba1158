// Package desk is what a coach asks of an archive of athletes and clips, without the page
// that asks: clips come in, are measured, corrected, compared and followed over visits.
//
// # The way of a clip
//
// A clip comes in by Add: the archive keeps its file under the hash of its content, makes a
// clip of it and a job of its analysis. The jobs (package queue) stand in the archive's own
// table, so that they outlive the program; Run takes one at a time. Of their kinds
//
//	measure  a clip that was changed after its measuring, from its stored track, in this process
//	report   the files of a comparison
//	analyze  a clip that is new: track, numbers, stills, and a video that a page can scrub
//	render   the annotated video, or the stills after a correction
//
// all but the first are done in a child process (package work), this program's own hidden
// subcommand: what a broken clip can end is its job. What a child has made is put into the
// archive as soon as it is there: first the analysis with its track, then the video.
//
// # Corrections
//
// A correction is a whole screening.Corrections document (Correct). The clip is measured
// again with it from its stored track in this process, without network and pictures, which
// takes a fraction of a second; only what can be measured is recorded. The new result keeps
// the clip's video and loses its annotated video; a job draws the stills anew. Each clip and
// each comparison has one turn, so that two windows do not write over each other.
//
// Beside each result lies what it was measured with. A program that starts again looks at
// all of them (Resume) and queues the measuring of every clip that was changed since: reading
// a clip writes nothing.
//
// A comparison remembers the results it was made of. When one of them has changed its clips
// are compared anew in memory by whoever asks (Comparison), and the next report of it is made
// of that and keeps it.
package desk
