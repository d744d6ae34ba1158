// Package pdftext reads the words of the PDFs that the program makes.
package pdftext

import (
	"bytes"
	"compress/zlib"
	"io"
	"regexp"
	"strings"
	"testing"
	"unicode/utf16"
)

// Of returns the words of a PDF, in the order in which they were put down.
func Of(t testing.TB, b []byte) string {
	t.Helper()
	var out strings.Builder
	for _, at := range regexp.MustCompile(`stream\r?\n`).FindAllIndex(b, -1) {
		r, err := zlib.NewReader(bytes.NewReader(b[at[1]:]))
		if err != nil {
			continue // not compressed: a photo
		}
		s, err := io.ReadAll(r)
		if err != nil || !bytes.Contains(s, []byte(" Tj")) {
			continue
		}
		for _, m := range regexp.MustCompile(`(?s)\(((?:[^\\()]|\\.)*)\) ?Tj`).FindAllSubmatch(s, -1) {
			raw := regexp.MustCompile(`(?s)\\(.)`).ReplaceAllFunc(m[1], func(e []byte) []byte {
				if e[1] == 'r' {
					return []byte{'\r'}
				}
				return e[1:]
			})
			var units []uint16
			for i := 0; i+1 < len(raw); i += 2 {
				units = append(units, uint16(raw[i])<<8|uint16(raw[i+1]))
			}
			out.WriteString(string(utf16.Decode(units)) + "\n")
		}
	}
	return out.String()
}
