package web

import (
	"net/http"
	"net/url"

	"holdfast/web/answer"
	"holdfast/web/gate"
)

// handleQR draws the page's address on the local network as a QR code. It holds a
// secret that logs one device in, once.
func (s *Server) handleQR(w http.ResponseWriter, r *http.Request) {
	address, ok := s.gate.Shared()
	if !ok {
		s.fail(w, r, answer.Trouble(http.StatusNotFound, "only_here", 0))
		return
	}
	svg, err := gate.QRCode(address + "login?token=" + url.QueryEscape(s.gate.Token(userOf(r).ID)))
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
	address, ok := s.gate.Shared()
	s.answer(w, r, http.StatusOK, struct {
		URL       string `json:"url"` // empty: only this computer
		ValidS    int    `json:"qr_valid_s"`
		Protected bool   `json:"password"`
		// Fingerprint is that of the certificate the other device meets; empty: nothing is encrypted.
		Fingerprint string `json:"fingerprint"`
	}{address, int(gate.TokenTime.Seconds()), s.gate.Needed && ok, s.fingerprint})
}
