// Package web is the coach's desk: a page on this computer, and on the phones of its
// network when the coach wants that, over an archive of athletes and clips. It
// measures nothing itself.
//
// # The way of a clip
//
// A clip arrives by POST /api/clips, or in pieces by /api/uploads, and is streamed to
// the archive's files under the hash of its content (upload.go). Its first bytes
// decide whether it can be a video, its whole structure whether it is kept; the name that came with it is shown and never
// becomes a path. The archive makes a clip of it and a job of its analysis; a server
// that starts makes that job for a clip that an earlier one left without.
//
// What comes in pieces is collected in the folder uploads of the data folder, beside
// a description of each clip (upload_pieces.go). It outlives the server and the page:
// whoever begins to send a file of the same name, size, date and athlete gets the
// unfinished upload, with a checksum of what is there to compare. It lasts a day, or
// until its athlete or visit is deleted.
//
// Each upload that comes in has a place (place.go), which it keeps while it comes at a
// least rate. When places run out, the one that is the furthest behind is ended for
// the next. A turn to write is held between two reads only: who stands still holds up
// nobody. A refusal is sent at once and closes the connection (security.go), whatever
// the request says that it will still send.
//
// The queue (queue.go) is the archive's table of jobs, so that it outlives the
// server. One goroutine takes a job at a time and has it done by a child process
// (worker.go), the same program with the hidden subcommand work, whose side of it
// is Work (worker_child.go). The two speak JSON: one order in, a line for each step
// out. The child has a process group of its own, limits on memory, processor time and
// files, gets at no file but those of its order and at no network where the system
// allows that (package confine), and dies with the server; the server
// kills the group when it holds too much memory, takes too long or is cancelled. A
// clip that crashes the decoder ends its job and nothing else: a child that ended by
// itself is tried once more, then the clip is put aside. The ends of the server are not
// counted.
//
// What the child has made is put into the archive as soon as it is there: first the
// analysis with its track, then the video for the page. Pages hear of it by
// server-sent events (events.go), while they are seen: a hidden page lets go of its
// connection, since a browser has only six of them, and catches up later.
//
// # Corrections
//
// A correction (api_clips.go) is a whole screening.Corrections document. The clip is
// measured again from its stored track in this process (api_desk.go), without
// network and pictures, which takes a fraction of a second; only what can be
// measured is recorded. The new result keeps the clip's video and loses its annotated
// video; a job draws the stills anew. A comparison remembers the results it was made
// of and is compared anew when one of them has changed (api_compare.go). Reports and
// PDFs are made when they are first asked for, in a child process, since their
// pictures need the clips decoded.
//
// # Who gets in
//
// The server listens on the loopback address. Anywhere else it needs a password;
// traffic is not encrypted, and the program says so. Four checks stand in front of
// all routes (security.go): the Host header names this server, so that no other
// site's name can be pointed at it; a request that changes something comes from the
// page itself and carries X-Holdfast: 1; a session shows that the password was given,
// whose wrong guesses are slowed down by where they come from and all together;
// a strict content security policy keeps names and notes from ever running. Logs name
// identifiers, never people, files or addresses, unless debug level is asked for.
//
// # Limits
//
// See Limits. How the limit on memory was chosen: on two cores, analysing a clip of
// 720 by 1280 pixels takes the child 0.4 GB of resident memory, 0.7 GB as the kernel
// counts data (RLIMIT_DATA) and 3.2 GB of addresses (RLIMIT_AS); one of 2160 by 3840
// takes 0.5, 0.8 and 3.3 GB. Each ffmpeg takes 0.1 to 0.25 GB resident and up to 0.5 GB
// of data. Go and ONNX Runtime reserve addresses far beyond what they use, so the
// limit on addresses would bound little; the limit on data is set in the child, which
// all it starts inherits, and the resident memory of the group is summed from outside
// twice a second.
package web
