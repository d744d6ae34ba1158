package secure

import (
	"crypto/sha256"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestLoad: a certificate is made once, for its owner's eyes, and anew when it is over or spoilt.
func TestLoad(t *testing.T) {
	dir, now := t.TempDir(), time.Now()
	first, err := Load(dir, now)
	if err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(filepath.Join(dir, File))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key is kept as %v (%v)", info.Mode(), err)
	}
	if again, err := Load(dir, now.Add(lasts/2)); err != nil || again.Fingerprint != first.Fingerprint {
		t.Errorf("loaded again it is another: %v", err)
	}
	if later, err := Load(dir, now.Add(2*lasts)); err != nil || later.Fingerprint == first.Fingerprint {
		t.Errorf("one that is over was not made anew: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, File), []byte("spoilt"), 0o600); err != nil {
		t.Fatal(err)
	}
	if k, err := Load(dir, now); err != nil || len(strings.Split(k.Fingerprint, ":")) != 32 {
		t.Errorf("one that is spoilt was not made anew: %v", err)
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("%d files are left", len(entries))
	}
	if _, err := Load(filepath.Join(dir, "nowhere"), now); err == nil {
		t.Error("it was kept in a folder that is not there")
	}
}

// TestListen: one port takes both, each request knows how it came, and the certificate has the fingerprint that is
// told.
func TestListen(t *testing.T) {
	k, err := Load(t.TempDir(), time.Now())
	if err != nil {
		t.Fatal(err)
	}
	inner, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := k.Listen(inner)
	server := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprint(w, r.TLS != nil)
	}), ReadHeaderTimeout: time.Minute}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	seen := ""
	client := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true,
		VerifyConnection: func(c tls.ConnectionState) error {
			sum := sha256.Sum256(c.PeerCertificates[0].Raw)
			seen = strings.ToUpper(fmt.Sprintf("% x", sum))
			return nil
		}}}}
	for scheme, encrypted := range map[string]string{"https": "true", "http": "false"} {
		answer, err := client.Get(scheme + "://" + l.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(answer.Body)
		answer.Body.Close()
		if string(text) != encrypted || err != nil {
			t.Errorf("%s: encrypted %s, %v", scheme, text, err)
		}
	}
	if strings.ReplaceAll(seen, " ", ":") != k.Fingerprint {
		t.Errorf("the browser sees %s, told is %s", seen, k.Fingerprint)
	}
	client.CloseIdleConnections()
	// One that says nothing holds up nobody, and is let go with the listener.
	quiet, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer quiet.Close()
	if err := server.Close(); err != nil {
		t.Error(err)
	}
	if err := <-ended; err != http.ErrServerClosed {
		t.Error(err)
	}
}
