package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"holdfast/archive"
	"holdfast/archive/folder"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk"
	"holdfast/desk/work"
	"holdfast/web"
	"holdfast/web/secure"
)

type serveOptions struct {
	place.Options
	listen       string
	passwordFile string
	model        string
	maxMinutes   float64
	movements    string
	open         bool
	verbose      bool
}

// passwordVariable is the environment variable that holds the password of the page.
const passwordVariable = work.PasswordVariable

// minPasswordLength is of our own choice: with a minute's wait after wrong ones
// (see web), eight letters are more than can be tried.
const minPasswordLength = 8

func newServeCommand(a *app) *cobra.Command {
	var opts serveOptions
	cmd := &cobra.Command{
		Use: "serve",
		Example: `  holdfast serve --open
  holdfast serve --listen 0.0.0.0:7070 --password-file password.txt`,
		Args: arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.runServe(cmd.Context(), opts)
		},
	}
	f := cmd.Flags()
	opts.AddFlags(f)
	f.StringVar(&opts.listen, "listen", "127.0.0.1:7070", "")
	f.StringVar(&opts.passwordFile, "password-file", "", "")
	f.StringVar(&opts.model, "model", defaultModel, "")
	addMaxMinutes(f, &opts.maxMinutes)
	addMovements(f, &opts.movements)
	f.BoolVar(&opts.open, "open", false, "")
	f.BoolVar(&opts.verbose, "verbose", false, "")
	return cmd
}

func (a *app) runServe(ctx context.Context, opts serveOptions) (err error) {
	if err := checkMaxMinutes(opts.maxMinutes); err != nil {
		return err
	}
	password, err := servePassword(opts.passwordFile, os.Getenv(passwordVariable))
	if err != nil {
		return err
	}
	// Neither the browser that --open starts nor anything else is to inherit it.
	if err := os.Unsetenv(passwordVariable); err != nil {
		return fmt.Errorf("taking the password out of the environment: %w", err)
	}
	if opts.model != "" {
		if err := checkModel(opts.model); err != nil {
			return err
		}
	}
	local, err := checkListen(opts.listen)
	if err != nil {
		return err
	}
	if !local && password == "" {
		return usagef("listen_password", "address", opts.listen, "variable", passwordVariable)
	}
	data, err := opts.Folder()
	if err != nil {
		return err
	}
	if err := useMovements(ownMovements(data), opts.movements); err != nil {
		return err
	}
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", opts.listen)
	if err != nil {
		return usagef("cannot_listen", "address", opts.listen, "error", err)
	}
	defer listener.Close()
	kept, err := opts.Open(ctx, data, archive.Options{Serving: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, kept.Close()) }()
	level := slog.LevelInfo
	if opts.verbose {
		level = slog.LevelDebug
	}
	listener, fingerprint, err := encrypted(listener, data, local)
	if err != nil {
		return err
	}
	server, err := web.NewServer(web.Options{
		Fingerprint: fingerprint,
		Desk: desk.Options{
			Archive: kept, WorkDir: filepath.Join(data, "tmp", "work"), Model: opts.model,
			Log:    slog.New(slog.NewTextHandler(a.stderr, &slog.HandlerOptions{Level: level})),
			Limits: desk.Limits{ClipMinutes: opts.maxMinutes},
		},
		Address: listener.Addr(), Password: password,
	})
	if err != nil {
		return err
	}
	page := pageAddress(listener.Addr())
	sayWhoCanReach(a.stdout, page, fingerprint, password != "")
	a.sayWalls()
	wide, err := kept.OpenToOthers()
	if err != nil {
		return err
	}
	if wide {
		terminal.Tell(a.stdout, "open_folder", "command", "chmod -R go= "+shellQuoted(data))
	}
	if opts.open {
		openBrowser(page)
	}
	return server.Serve(ctx, listener)
}

// sayWalls tells what keeps the processes that read clips where they belong.
func (a *app) sayWalls() {
	for _, wall := range work.Confinement() {
		if wall.Stands {
			terminal.Tell(a.stdout, "wall", "wall", wall.Text)
		} else {
			terminal.Tell(a.stderr, "wall_missing", "wall", wall.Text)
		}
	}
}

// encrypted lets other devices reach a listener by a certificate of the data folder, whose fingerprint it returns; that
// of this computer alone stays as it is.
func encrypted(l net.Listener, data string, local bool) (net.Listener, string, error) {
	if local {
		return l, "", nil
	}
	keys, err := secure.Load(data, time.Now())
	if err != nil {
		return l, "", err
	}
	return keys.Listen(l), keys.Fingerprint, nil
}

// ownMovements returns the folder of a coach's own movements in the data folder; empty where there is none.
func ownMovements(data string) string {
	dir := filepath.Join(data, folder.Movements)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return ""
	}
	return dir
}

// servePassword returns the password of the page, from the file or the environment;
// empty: none.
func servePassword(file, variable string) (string, error) {
	password := variable
	if file != "" {
		f, err := os.Open(file)
		if err != nil {
			return "", usagef("password_file", "error", err)
		}
		defer f.Close()
		text, err := io.ReadAll(io.LimitReader(f, 4<<10))
		if err != nil {
			return "", usagef("password_file", "error", err)
		}
		password, _, _ = strings.Cut(string(text), "\n")
		password = strings.TrimSuffix(password, "\r")
		if password == "" {
			return "", usagef("password_empty", "file", file)
		}
	}
	if password != "" && len(password) < minPasswordLength {
		return "", usagef("password_short", "least", minPasswordLength)
	}
	return password, nil
}

// checkListen says whether an address can be reached from this computer alone. A
// name other than localhost is refused: what it stands for may change.
func checkListen(address string) (local bool, err error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false, usagef("listen", "given", address)
	}
	if host == "localhost" {
		return true, nil
	}
	if host == "" {
		return false, nil // all addresses
	}
	ip := net.ParseIP(host)
	if ip == nil {
		return false, usagef("listen_name", "given", host)
	}
	return ip.IsLoopback(), nil
}

// pageAddress is how this computer's browser reaches the page.
func pageAddress(bound net.Addr) string {
	host, port, err := net.SplitHostPort(bound.String())
	if err != nil {
		return "http://" + bound.String() + "/"
	}
	if ip := net.ParseIP(host); ip == nil || ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return "http://" + net.JoinHostPort(host, port) + "/"
}

func sayWhoCanReach(w io.Writer, page, fingerprint string, password bool) {
	local := fingerprint == ""
	terminal.Tell(w, "at_page", "address", page)
	switch {
	case local && password:
		terminal.Tell(w, "reach_password")
	case local:
		terminal.Tell(w, "reach_here")
	default:
		terminal.Tell(w, "reach_all")
		terminal.Tell(w, "reach_encrypted")
		terminal.Tell(w, "reach_fingerprint", "fingerprint", fingerprint)
		terminal.Tell(w, "reach_phone")
	}
	terminal.Tell(w, "stop")
}

// shellQuoted writes a path so that it can be typed into a shell.
func shellQuoted(path string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("/._-+,:@%=", r)
	}
	if path != "" && path[0] != '-' && strings.IndexFunc(path, func(r rune) bool { return !plain(r) }) < 0 {
		return path
	}
	if strings.HasPrefix(path, "-") {
		path = "./" + path
	}
	return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
}

// openBrowser shows the page. That no browser opens is no reason to stop: the
// address was printed.
func openBrowser(page string) {
	name, args := "xdg-open", []string{page}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", page}
	}
	// Some of these become the browser themselves, which outlives the server.
	cmd := exec.Command(name, args...)
	if cmd.Start() == nil {
		_ = cmd.Process.Release()
	}
}
