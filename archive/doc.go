// Package archive keeps athletes, visits, clips, results and corrections in one
// folder: a SQLite database and, beside it, files named after their content.
//
//	holdfast.db      rows; written ahead (WAL) and synced at every commit
//	files/ab/abcd…   clips and results, by SHA-256
//	tmp/             what is being written; lists of files that get or lose their row
//	lost/            files that the database did not know, for 30 days
//	uploads/         clips that have not come whole
//	serving.lock     held by the one server of the folder
//	files.lock       held for a moment while files are put in place or removed
//
// A file that was put and is not named yet is nobody's: deletions leave it alone for a
// quarter of an hour, unless its naming failed, and Forget removes it. Package folder
// says what a kill leaves, and who clears it away.
//
// A folder that holds something else than an archive is refused.
//
// Several processes may use a folder at once: the database waits for its turn. Only
// one of them may serve, and only while none does is a database of an older program
// brought up to date.
package archive
