// Package web is the coach's desk on a screen: a page on this computer, and on the phones of
// its network when the coach wants that. What is asked for there package desk does; what is
// measured comes from further down. Here stand the routes and what they answer; package pages
// makes the pages, package gate decides who gets in.
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
