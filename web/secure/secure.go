// Package secure encrypts what goes to other devices of the network, by a certificate that the program makes for itself
// at its first start. No authority vouches for it: whoever opens the page compares its fingerprint.
package secure

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"holdfast/archive/folder"
)

// File is the certificate with its key in a data folder. It is its owner's alone, and in no backup.
const File = folder.Certificate

// lasts is for how long a certificate holds: browsers take none of more than 825 days. One that is over is made anew.
const lasts = 800 * 24 * time.Hour

// Keys are the page's certificate and its key.
type Keys struct {
	// Fingerprint is the SHA-256 of the certificate, in pairs of digits as browsers show it.
	Fingerprint string

	config *tls.Config
}

// Load reads the certificate of a data folder, and makes one where there is none that holds at this time.
func Load(dir string, now time.Time) (*Keys, error) {
	path := filepath.Join(dir, File)
	text, err := os.ReadFile(path)
	if err == nil {
		if k, err := keysOf(text); err == nil && now.Before(k.config.Certificates[0].Leaf.NotAfter) {
			return k, nil
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("reading the page's certificate: %w", err)
	}
	if text, err = made(now); err != nil {
		return nil, fmt.Errorf("making the page's certificate: %w", err)
	}
	if err := write(path, text); err != nil {
		return nil, fmt.Errorf("keeping the page's certificate: %w", err)
	}
	return keysOf(text)
}

// Read reads a certificate that an authority vouches for, and its key, from files that their owner renews: what they
// hold at the start is used.
func Read(certificate, key string) (*Keys, error) {
	text, err := os.ReadFile(certificate)
	if err != nil {
		return nil, err
	}
	secret, err := os.ReadFile(key)
	if err != nil {
		return nil, err
	}
	return keysOf(append(append(text, '\n'), secret...))
}

func keysOf(text []byte) (*Keys, error) {
	pair, err := tls.X509KeyPair(text, text)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(pair.Certificate[0])
	var pairs []string
	for _, b := range sum {
		pairs = append(pairs, fmt.Sprintf("%02X", b))
	}
	return &Keys{strings.Join(pairs, ":"), &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12,
		NextProtos: []string{"http/1.1"}}}, nil
}

// made makes a key and a certificate that it signs itself.
func made(now time.Time) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		return nil, err
	}
	of := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "Holdfast"}, NotBefore: now.Add(-time.Hour),
		NotAfter: now.Add(lasts), KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
		DNSNames: []string{"localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1), net.IPv6loopback},
	}
	cert, err := x509.CreateCertificate(rand.Reader, of, of, &key.PublicKey, key)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = errors.Join(pem.Encode(&out, &pem.Block{Type: "CERTIFICATE", Bytes: cert}),
		pem.Encode(&out, &pem.Block{Type: "PRIVATE KEY", Bytes: secret}))
	return out.Bytes(), err
}

// write puts a file in place in one step; only its owner reads it.
func write(path string, text []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".page-*") // for its owner alone
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name())
	}
	return err
}

// firstByteTime is how long a connection may take to say whether it is encrypted.
const firstByteTime = 10 * time.Second

// Listen returns a listener that takes encrypted connections and plain ones on the same port: this computer's own
// browser needs no certificate. Which of the two a request came by is in its TLS field.
func (k *Keys) Listen(l net.Listener) net.Listener {
	s := &listener{Listener: l, config: k.config, ready: make(chan net.Conn), done: make(chan struct{})}
	go s.take()
	return s
}

type listener struct {
	net.Listener
	config *tls.Config
	ready  chan net.Conn
	done   chan struct{}
	once   sync.Once
	err    error // why no more connections come; read after done
}

// take takes connections and looks at the first byte of each, beside the others.
func (s *listener) take() {
	for {
		c, err := s.Listener.Accept()
		if err != nil {
			s.end(err)
			return
		}
		go func() {
			told, err := s.told(c)
			if err != nil {
				_ = c.Close()
				return
			}
			select {
			case s.ready <- told:
			case <-s.done:
				_ = c.Close()
			}
		}()
	}
}

// handshake is the first byte of an encrypted connection.
const handshake = 0x16

// told waits for the first byte of a connection and says by it what the connection is.
func (s *listener) told(c net.Conn) (net.Conn, error) {
	if err := c.SetReadDeadline(time.Now().Add(firstByteTime)); err != nil {
		return nil, err
	}
	first := make([]byte, 1)
	if _, err := c.Read(first); err != nil {
		return nil, err
	}
	if err := c.SetReadDeadline(time.Time{}); err != nil {
		return nil, err
	}
	whole := &begun{Conn: c, first: first}
	if first[0] == handshake {
		return tls.Server(whole, s.config), nil
	}
	return whole, nil
}

func (s *listener) end(err error) {
	s.once.Do(func() {
		s.err = err
		close(s.done)
	})
}

func (s *listener) Accept() (net.Conn, error) {
	select {
	case c := <-s.ready:
		return c, nil
	case <-s.done:
		return nil, s.err
	}
}

func (s *listener) Close() error {
	err := s.Listener.Close()
	s.end(net.ErrClosed)
	return err
}

// begun is a connection of which a byte was read already.
type begun struct {
	net.Conn
	first []byte
}

func (b *begun) Read(p []byte) (int, error) {
	if len(b.first) > 0 {
		n := copy(p, b.first)
		b.first = b.first[n:]
		return n, nil
	}
	return b.Conn.Read(p)
}
