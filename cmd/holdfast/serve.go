package main

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"holdfast/archive"
	"holdfast/archive/folder"
	"holdfast/cmd/holdfast/door"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/desk"
	"holdfast/desk/work"
	"holdfast/web"
)

type serveOptions struct {
	place.Options
	door       door.Options
	model      string
	maxMinutes float64
	movements  string
	metrics    string
	open       bool
	verbose    bool
}

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
	opts.door.AddFlags(f)
	f.StringVar(&opts.model, "model", defaultModel, "")
	addMaxMinutes(f, &opts.maxMinutes)
	addMovements(f, &opts.movements)
	f.StringVar(&opts.metrics, "metrics", "", "")
	f.BoolVar(&opts.open, "open", false, "")
	f.BoolVar(&opts.verbose, "verbose", false, "")
	return cmd
}

func (a *app) runServe(ctx context.Context, opts serveOptions) (err error) {
	if err := checkMaxMinutes(opts.maxMinutes); err != nil {
		return err
	}
	if opts.model != "" {
		if err := checkModel(opts.model); err != nil {
			return err
		}
	}
	data, err := opts.Folder()
	if err != nil {
		return err
	}
	in, err := opts.door.Check(ctx, opts.Options, data)
	if err != nil {
		return err
	}
	if err := useMovements(ownMovements(data), opts.movements); err != nil {
		return err
	}
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", in.Listen)
	if err != nil {
		return usagef("cannot_listen", "address", in.Listen, "error", err)
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
	listener, fingerprint, err := in.Encrypt(listener, data)
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
		Address: listener.Addr(), Password: in.Password, Named: in.Named, Public: in.Public,
		OwnCertificate: in.Certificate != "",
	})
	if err != nil {
		return err
	}
	end, err := server.Vitals.Beside(ctx, opts.metrics)
	if err != nil {
		return usagef("cannot_listen_metrics", "address", opts.metrics, "error", err)
	}
	defer func() { err = errors.Join(err, end()) }()
	page := door.Address(listener.Addr())
	in.SayWhoCanReach(a.stdout, page, fingerprint)
	if err := in.SayFirst(ctx, a.stdout, kept); err != nil {
		return err
	}
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

// ownMovements returns the folder of a coach's own movements in the data folder; empty where there is none.
func ownMovements(data string) string {
	dir := filepath.Join(data, folder.Movements)
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return ""
	}
	return dir
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
