// Package web is the coach's desk on a screen: a page on this computer, and on the phones of
// its network when the coach wants that. What is asked for there package desk does; what is
// measured comes from further down. Here stand the routes, who gets in, and how clips arrive.
//
// # How clips arrive
//
// A clip arrives by POST /api/clips, or in pieces by /api/uploads, and is streamed to
// the archive's files under the hash of its content (upload.go). Its first bytes
// decide whether it can be a video, its whole structure whether it is kept; the name that came with it is shown and never
// becomes a path.
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
// # What pages hear
//
// Pages hear of jobs and results by server-sent events (events.go), while they are seen: a
// hidden page lets go of its connection, since a browser has only six of them, and catches
// up later. A request that reads writes nothing. A report is made by POST, which answers when
// it is there; GET then sends it.
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
package web
