package answer

import (
	"io"
	"mime"
	"net/http"
	"path"
	"strings"

	"holdfast/desk/given"
)

// kinds are the types under which stored files are sent. Everything else is sent
// as bytes to be saved, never to be shown.
var kinds = map[string]string{
	".json": "application/json; charset=utf-8", ".csv": "text/csv; charset=utf-8", ".png": "image/png",
	".jpg": "image/jpeg", ".svg": "image/svg+xml",
	".mp4": "video/mp4", ".html": "text/html; charset=utf-8", ".pdf": "application/pdf", ".gz": "application/gzip",
}

// What a file that was made, or a PDF, may do when a browser shows it.
const (
	resultPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; media-src data:; font-src data:; " +
		"frame-ancestors 'none'; base-uri 'none'; form-action 'none'; sandbox"
	pdfPolicy = "default-src 'none'; object-src 'self'; style-src 'unsafe-inline'; frame-ancestors 'none'; " +
		"base-uri 'none'; form-action 'none'"
)

// FileHeaders says how a file of this name is to be shown or saved.
func FileHeaders(w http.ResponseWriter, r *http.Request, name, label string) {
	ext := path.Ext(name)
	kind := kinds[ext]
	h := w.Header()
	disposition := "inline"
	if kind == "" {
		kind, disposition = "application/octet-stream", "attachment"
	}
	if r.URL.Query().Get("download") == "1" || ext == ".gz" {
		disposition = "attachment"
	}
	h.Set("Content-Type", kind)
	h.Set("Content-Disposition", Disposition(disposition, label, path.Base(name)))
	// Kept by the browser, but asked about every time: a correction makes a new one.
	h.Set("Cache-Control", "private, no-cache")
	switch ext {
	case ".pdf":
		h.Set("Content-Security-Policy", pdfPolicy)
	default:
		h.Set("Content-Security-Policy", resultPolicy)
	}
}

// Disposition writes the header's value with a name that no browser can
// take for a path or for another header.
func Disposition(how, label, name string) string {
	full := given.DisplayName(name)
	if label = given.DisplayName(label); label != "clip" {
		full = given.DisplayName(strings.TrimSuffix(label, path.Ext(label)) + " " + full)
	}
	v := mime.FormatMediaType(how, map[string]string{"filename": full})
	if v == "" {
		return how
	}
	return v
}

// Late knows whether an answer has begun.
type Late struct {
	To    io.Writer
	Begun bool
}

func (l *Late) Write(p []byte) (int, error) {
	l.Begun = true
	return l.To.Write(p)
}

// AcceptsGzip says whether the client takes a packed answer.
func AcceptsGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.TrimSpace(name) == "gzip" {
			q = strings.ReplaceAll(q, " ", "")
			return q != "q=0" && q != "q=0.0" && q != "q=0.00" && q != "q=0.000"
		}
	}
	return false
}
