// Package archive keeps athletes, visits, clips, results and corrections in one
// folder: a SQLite database and, beside it, files named after their content.
//
//	holdfast.db      rows; written ahead (WAL) and synced at every commit
//	files/ab/abcd…   clips and results, by SHA-256
//	tmp/             what is being written
//	serving.lock     held by the one server of the folder
//	files.lock       held for a moment while files are put in place or removed
//
// A file is written to tmp, synced, renamed to its name, and only then named by a
// row. So a kill at any moment leaves a file that no row knows, which the next
// server removes, and never a row without its file. Deleting goes the other way:
// rows first, then files.
//
// Several processes may use a folder at once: the database waits for its turn. Only
// one of them may serve.
package archive
