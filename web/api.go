package web

import (
	"compress/gzip"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"holdfast/archive"
	"holdfast/desk/given"
	"holdfast/desk/refusal"
	"holdfast/web/answer"
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

// sendFile sends a stored file, in parts when a video player asks for them. label
// names what it belongs to in the name under which it is saved.
func (s *Server) sendFile(w http.ResponseWriter, r *http.Request, f archive.File, label string) {
	body, err := s.archive.OpenFile(r.Context(), f.SHA256)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	defer body.Close()
	answer.FileHeaders(w, r, f.Name, label)
	w.Header().Set("ETag", `"`+f.SHA256+`"`)
	http.ServeContent(w, r, "", time.Time{}, body)
}

// sendJSON sends a large document that write writes. Its tag changes when it does.
func (s *Server) sendJSON(w http.ResponseWriter, r *http.Request, tag string, write func(io.Writer) error) {
	h := w.Header()
	packed := answer.AcceptsGzip(r)
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
	out := &answer.Late{To: w}
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
	case !out.Begun:
		s.fail(w, r, err)
	default: // too late to say it in words: break the answer off
		panic(http.ErrAbortHandler)
	}
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
	name = given.OneLine(name)
	if name == "" {
		return "", &refusal.Error{Kind: refusal.Bad, Code: "name_missing"}
	}
	if len([]rune(name)) > given.MaxNameRunes {
		return "", refusal.Wrong("name_long", words.Params{"most": given.MaxNameRunes})
	}
	return name, nil
}
