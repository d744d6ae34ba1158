package web

import (
	"compress/gzip"
	"io"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
	"time"

	"holdfast/archive"
	"holdfast/desk"
	"holdfast/desk/refusal"
	"holdfast/words"
)

// fileView is a file of a result as the page sees it.
type fileView struct {
	Name      string `json:"name"`
	SizeBytes int64  `json:"size_bytes"`
}

func fileViews(files []archive.File) []fileView {
	out := make([]fileView, 0, len(files))
	for _, f := range files {
		out = append(out, fileView{f.Name, f.SizeBytes})
	}
	slices.SortFunc(out, func(a, b fileView) int { return strings.Compare(a.Name, b.Name) })
	return out
}

// kinds are the types under which stored files are sent. Everything else is sent
// as bytes to be saved, never to be shown.
var kinds = map[string]string{
	".json": "application/json; charset=utf-8", ".csv": "text/csv; charset=utf-8", ".png": "image/png",
	".jpg": "image/jpeg", ".svg": "image/svg+xml",
	".mp4": "video/mp4", ".html": "text/html; charset=utf-8", ".pdf": "application/pdf", ".gz": "application/gzip",
}

// sendFile sends a stored file, in parts when a video player asks for them. label
// names what it belongs to in the name under which it is saved.
func (s *Server) sendFile(w http.ResponseWriter, r *http.Request, f archive.File, label string) {
	body, err := s.archive.OpenFile(r.Context(), f.SHA256)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer body.Close()
	s.fileHeaders(w, r, f.Name, label)
	w.Header().Set("ETag", `"`+f.SHA256+`"`)
	http.ServeContent(w, r, "", time.Time{}, body)
}

// fileHeaders says how a file of this name is to be shown or saved.
func (s *Server) fileHeaders(w http.ResponseWriter, r *http.Request, name, label string) {
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
	h.Set("Content-Disposition", contentDisposition(disposition, label, path.Base(name)))
	// Kept by the browser, but asked about every time: a correction makes a new one.
	h.Set("Cache-Control", "private, no-cache")
	switch ext {
	case ".pdf":
		h.Set("Content-Security-Policy", pdfPolicy)
	default:
		h.Set("Content-Security-Policy", resultPolicy)
	}
}

// contentDisposition writes the header's value with a name that no browser can
// take for a path or for another header.
func contentDisposition(how, label, name string) string {
	full := desk.DisplayName(name)
	if label = desk.DisplayName(label); label != "clip" {
		full = desk.DisplayName(strings.TrimSuffix(label, path.Ext(label)) + " " + full)
	}
	v := mime.FormatMediaType(how, map[string]string{"filename": full})
	if v == "" {
		return how
	}
	return v
}

// sendJSON sends a large document that write writes. Its tag changes when it does.
func (s *Server) sendJSON(w http.ResponseWriter, r *http.Request, tag string, write func(io.Writer) error) {
	h := w.Header()
	packed := acceptsGzip(r)
	etag := `"` + tag + `"`
	if packed {
		etag = `"` + tag + `-gz"`
	}
	h.Set("ETag", etag)
	h.Set("Vary", "Accept-Encoding")
	h.Set("Cache-Control", "private, no-cache")
	if r.Header.Get("If-None-Match") == etag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Type", "application/json; charset=utf-8")
	out := &late{w: w}
	var err error
	if packed {
		h.Set("Content-Encoding", "gzip")
		z, _ := gzip.NewWriterLevel(out, gzip.BestSpeed) // the level is a valid one
		if err = write(z); err == nil {
			err = z.Close()
		}
	} else {
		err = write(out)
	}
	switch {
	case err == nil:
	case !out.begun:
		s.fail(w, r, err)
	default: // too late to say it in words: break the answer off
		panic(http.ErrAbortHandler)
	}
}

// late knows whether an answer has begun.
type late struct {
	w     io.Writer
	begun bool
}

func (l *late) Write(p []byte) (int, error) {
	l.begun = true
	return l.w.Write(p)
}

// acceptsGzip says whether the client takes a packed answer.
func acceptsGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.TrimSpace(name) == "gzip" {
			q = strings.ReplaceAll(q, " ", "")
			return q != "q=0" && q != "q=0.0" && q != "q=0.00" && q != "q=0.000"
		}
	}
	return false
}

// patched overwrites a value by one that was sent.
func patched[T any](into *T, sent *T) {
	if sent != nil {
		*into = *sent
	}
}

func checkNotes(notes string) error {
	const most = 20_000
	if len(notes) > most {
		return refusal.Wrong("notes_long", words.Params{"most": most})
	}
	return nil
}

func checkName(name string) (string, error) {
	name = desk.OneLine(name)
	if name == "" {
		return "", &refusal.Error{Kind: refusal.Bad, Code: "name_missing"}
	}
	if len([]rune(name)) > desk.MaxNameRunes {
		return "", refusal.Wrong("name_long", words.Params{"most": desk.MaxNameRunes})
	}
	return name, nil
}

func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
