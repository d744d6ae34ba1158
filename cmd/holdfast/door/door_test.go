package door

import (
	"bytes"
	"net"
	"strings"
	"testing"
)

func TestWhoCanReach(t *testing.T) {
	for _, tt := range []struct {
		bound       string
		fingerprint string
		password    string
		named       bool
		want        []string
	}{
		{"127.0.0.1:7070", "", "", false, []string{"http://127.0.0.1:7070/", "Only this computer can reach it.\n"}},
		{"[::1]:7070", "", "correct horse", false, []string{"http://[::1]:7070/", "with the password"}},
		{"[::]:7070", "AB:CD", "correct horse", false, []string{"http://127.0.0.1:7070/",
			"fingerprint:\nAB:CD\n", "QR code"}},
		{"192.168.1.5:7070", "AB:CD", "correct horse", false, []string{"http://192.168.1.5:7070/",
			"Everyone on your network who has the password"}},
		{"192.168.1.5:7070", "AB:CD", "", true, []string{"Users log in by name", "fingerprint:\nAB:CD\n"}},
	} {
		addr, err := net.ResolveTCPAddr("tcp", tt.bound)
		if err != nil {
			t.Fatal(err)
		}
		var out bytes.Buffer
		d := Door{Local: addr.IP.IsLoopback(), Password: tt.password, Named: tt.named}
		d.SayWhoCanReach(&out, Address(addr), tt.fingerprint)
		for _, w := range tt.want {
			if !strings.Contains(out.String(), w) {
				t.Errorf("%s: %q lacks %q", tt.bound, out.String(), w)
			}
		}
	}
}
