// Package pages makes the coach's pages: their HTML from what the archive holds, and the files that a browser loads
// beside it. It knows no request; package web says who asks, and writes what is made here. What a page says is in the
// catalogue of package words, under [page] and, for its scripts, under [script].
package pages
