// Package archive keeps athletes, visits, clips, results and corrections in one
// folder: a SQLite database and, beside it, files named after their content.
//
//	holdfast.db      rows; written ahead (WAL) and synced at every commit
//	files/ab/abcd…   clips and results, by SHA-256
//	tmp/             what is being written; lists of files that get or lose their row
//	lost/            files that the database did not know, for 30 days
//	serving.lock     held by the one server of the folder
//	files.lock       held for a moment while files are put in place or removed
//
// A file is written to tmp, synced, renamed to its name, and only then named by a
// row. So a kill at any moment leaves a file that no row knows, and never a row
// without its file. Deleting goes the other way: rows first, then files. Both write
// down in tmp which files they are about to touch, so that the next server removes
// what a kill left. Any other file that no row knows may be one that the database has
// lost, as when an older one was put back: the server moves it to lost, from where it
// returns with a database that knows it. Before that it has SQLite check the database.
//
// A file that was put and is not named yet is nobody's: deletions leave it alone for a
// quarter of an hour, unless its naming failed, and Forget removes it.
//
// A folder that holds something else than an archive is refused.
//
// Several processes may use a folder at once: the database waits for its turn. Only
// one of them may serve, and only while none does is a database of an older program
// brought up to date.
package archive
