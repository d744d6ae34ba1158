// Package door is how the page lets people in, as the command line says it: where it listens, by which password or
// users, encrypted by which certificate, and what is said of that.
package door

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"holdfast/archive"
	"holdfast/archive/users"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk/work"
	"holdfast/web/gate"
	"holdfast/web/secure"
)

// Options say how people come in.
type Options struct {
	Listen       string
	PasswordFile string
	Public       string // the address under which others know the page; empty: that of this computer
	Certificate  string // a file, with Key; empty: the page's own
	Key          string
}

// AddFlags adds the flags that say so.
func (o *Options) AddFlags(f *pflag.FlagSet) {
	f.StringVar(&o.Listen, "listen", "127.0.0.1:7070", "")
	f.StringVar(&o.PasswordFile, "password-file", "", "")
	f.StringVar(&o.Public, "public-url", "", "")
	f.StringVar(&o.Certificate, "certificate", "", "")
	f.StringVar(&o.Key, "key", "", "")
}

// Door is a door that fits its options.
type Door struct {
	Options
	Local    bool   // only this computer reaches the page
	Named    bool   // users log in by name
	Password string // that everybody has; empty: none
}

// PasswordVariable is the environment variable that holds the password of the page.
const PasswordVariable = work.PasswordVariable

// Check says how people come in to the page of an archive, or what is wrong with the options. The password is taken out
// of the environment: neither the browser that is started nor anything else is to inherit it.
func (o *Options) Check(ctx context.Context, in place.Options, data string) (d Door, err error) {
	d.Options = *o
	if d.Password, err = password(o.PasswordFile, os.Getenv(PasswordVariable)); err != nil {
		return d, err
	}
	if err := os.Unsetenv(PasswordVariable); err != nil {
		return d, fmt.Errorf("taking the password out of the environment: %w", err)
	}
	if d.Local, err = local(o.Listen); err != nil {
		return d, err
	}
	if _, ok := gate.PublicAddress(o.Public); o.Public != "" && !ok {
		return d, terminal.Usage("public_url", "given", o.Public)
	}
	if o.Public == "" && o.Certificate != "" || (o.Certificate == "") != (o.Key == "") {
		return d, terminal.Usage("certificate")
	}
	if !d.Local || o.Public != "" || in.Shared() {
		d.Named, err = d.named(ctx, in, data)
	}
	return d, err
}

// named says whether users log in by name: those of an archive that has some, and of one in a database where no
// password was given that everybody has.
func (d *Door) named(ctx context.Context, in place.Options, data string) (bool, error) {
	any := false
	arc, err := in.Open(ctx, data, archive.Options{MustExist: true})
	switch {
	case errors.Is(err, archive.ErrNotArchive): // there is none yet
	case err != nil:
		return false, err
	default:
		var all []users.User
		all, err = arc.Users().List(ctx)
		if err := errors.Join(err, arc.Close()); err != nil {
			return false, err
		}
		any = len(all) > 0
	}
	switch {
	case any && d.Password != "":
		return false, terminal.Usage("password_named", "variable", PasswordVariable)
	case !any && d.Password == "" && !in.Shared():
		return false, terminal.Usage("listen_password", "address", d.Listen, "variable", PasswordVariable)
	}
	return any || d.Password == "", nil
}

// SayFirst says how to make the first user, where somebody has to.
func (d *Door) SayFirst(ctx context.Context, w io.Writer, arc *archive.Archive) error {
	if !d.Named {
		return nil
	}
	all, err := arc.Users().List(ctx)
	if err == nil && len(all) == 0 {
		terminal.Tell(w, "no_users")
	}
	return err
}

// Encrypt lets other devices reach a listener by the certificate that was given, or by one of the data folder, whose
// fingerprint it returns; that of this computer alone stays as it is.
func (d *Door) Encrypt(l net.Listener, data string) (net.Listener, string, error) {
	if d.Certificate != "" {
		keys, err := secure.Read(d.Certificate, d.Key)
		if err != nil {
			return l, "", terminal.Usage("certificate_unreadable", "error", err)
		}
		return keys.Listen(l), "", nil
	}
	if d.Local {
		return l, "", nil
	}
	keys, err := secure.Load(data, time.Now())
	if err != nil {
		return l, "", err
	}
	return keys.Listen(l), keys.Fingerprint, nil
}

// leastPassword is of our own choice: with a minute's wait after wrong ones (see gate), eight letters are more than can
// be tried.
const leastPassword = users.LeastPassword

// password returns the password of the page, from the file or the environment;
// empty: none.
func password(file, variable string) (string, error) {
	password := variable
	if file != "" {
		f, err := os.Open(file)
		if err != nil {
			return "", terminal.Usage("password_file", "error", err)
		}
		defer f.Close()
		text, err := io.ReadAll(io.LimitReader(f, 4<<10))
		if err != nil {
			return "", terminal.Usage("password_file", "error", err)
		}
		password, _, _ = strings.Cut(string(text), "\n")
		password = strings.TrimSuffix(password, "\r")
		if password == "" {
			return "", terminal.Usage("password_empty", "file", file)
		}
	}
	if password != "" && len(password) < leastPassword {
		return "", terminal.Usage("password_short", "least", leastPassword)
	}
	return password, nil
}

// local says whether an address can be reached from this computer alone. A
// name other than localhost is refused: what it stands for may change.
func local(address string) (bool, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false, terminal.Usage("listen", "given", address)
	}
	if host == "localhost" {
		return true, nil
	}
	if host == "" {
		return false, nil // all addresses
	}
	ip := net.ParseIP(host)
	if ip == nil {
		return false, terminal.Usage("listen_name", "given", host)
	}
	return ip.IsLoopback(), nil
}

// Address is how this computer's browser reaches the page.
func Address(bound net.Addr) string {
	host, port, err := net.SplitHostPort(bound.String())
	if err != nil {
		return "http://" + bound.String() + "/"
	}
	if ip := net.ParseIP(host); ip == nil || ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return "http://" + net.JoinHostPort(host, port) + "/"
}

// SayWhoCanReach says who can reach a page of an address, and how.
func (d *Door) SayWhoCanReach(w io.Writer, page, fingerprint string) {
	password, local := d.Password != "", d.Local && d.Public == ""
	terminal.Tell(w, "at_page", "address", page)
	switch {
	case d.Named:
		terminal.Tell(w, "reach_named")
		if d.Public != "" {
			terminal.Tell(w, "reach_public", "address", d.Public)
		}
	case local && password:
		terminal.Tell(w, "reach_password")
	case local:
		terminal.Tell(w, "reach_here")
	default:
		terminal.Tell(w, "reach_all")
		terminal.Tell(w, "reach_phone")
	}
	if fingerprint != "" {
		terminal.Tell(w, "reach_encrypted")
		terminal.Tell(w, "reach_fingerprint", "fingerprint", fingerprint)
	}
	terminal.Tell(w, "stop")
}
