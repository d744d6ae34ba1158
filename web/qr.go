package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"rsc.io/qr"
)

// handleQR draws the page's address on the local network as a QR code. It holds a
// secret that logs one device in, once.
func (s *Server) handleQR(w http.ResponseWriter, r *http.Request) {
	address, ok := s.gate.shared()
	if !ok {
		s.fail(w, r, trouble(http.StatusNotFound, "only_here", 0))
		return
	}
	svg, err := qrSVG(address + "login?token=" + url.QueryEscape(s.gate.token()))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(svg)
}

// handleAddress tells the page's address on the local network, for those who type.
func (s *Server) handleAddress(w http.ResponseWriter, r *http.Request) {
	address, ok := s.gate.shared()
	s.answer(w, r, http.StatusOK, struct {
		URL       string `json:"url"` // empty: only this computer
		ValidS    int    `json:"qr_valid_s"`
		Protected bool   `json:"password"`
	}{address, int(tokenTime.Seconds()), s.gate.needed && ok})
}

// qrSVG draws a text as a QR code: dark on white also in a dark page, with the
// quiet border of four modules that readers need (ISO/IEC 18004, from memory).
func qrSVG(text string) ([]byte, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return nil, fmt.Errorf("drawing the QR code: %w", err)
	}
	const border = 4
	side := code.Size + 2*border
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" shape-rendering="crispEdges" role="img" aria-label="QR code of this page's address">`, side, side)
	fmt.Fprintf(&b, `<rect width="%d" height="%d" fill="#fff"/><path fill="#000" d="`, side, side)
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			if !code.Black(x, y) {
				continue
			}
			from := x
			for x < code.Size && code.Black(x, y) {
				x++
			}
			fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from+border, y+border, x-from, x-from)
		}
	}
	b.WriteString(`"/></svg>`)
	return []byte(b.String()), nil
}
