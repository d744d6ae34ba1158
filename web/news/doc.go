// Package news tells the pages that listen what has changed: the queue, or a clip. It tells that, not what, and keeps
// nothing for longer than a page takes to ask.
package news
