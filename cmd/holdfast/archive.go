package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"holdfast/archive"
	"holdfast/archive/backup"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/sets"
	"holdfast/cmd/holdfast/terminal"
	"holdfast/printable"
	"holdfast/report/measures"
	"holdfast/report/resultdir"
	"holdfast/screening"
	"holdfast/screening/history"
)

// archiveOptions are the flags of every command that reads the archive.
type archiveOptions struct {
	place.Options
	json bool
	csv  bool
}

// withArchive opens an archive that is there, and closes it after do.
func (a *app) withArchive(ctx context.Context, opt archiveOptions, do func(*archive.Archive) error) error {
	dir, err := opt.Folder()
	if err != nil {
		return err
	}
	arc, err := opt.Open(ctx, dir, archive.Options{Now: a.now, MustExist: true})
	if err != nil {
		return err
	}
	return errors.Join(do(arc), arc.Close())
}

func newAthletesCommand(a *app) *cobra.Command {
	var opts archiveOptions
	cmd := &cobra.Command{
		Use:  "athletes",
		Args: arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.runAthletes(cmd.Context(), opts) },
	}
	opts.AddFlags(cmd.Flags())
	cmd.Flags().BoolVar(&opts.json, "json", false, "")
	return cmd
}

func (a *app) runAthletes(ctx context.Context, opts archiveOptions) error {
	return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
		athletes, err := arc.Athletes(ctx)
		if err != nil {
			return err
		}
		if len(athletes) == 0 && !opts.json {
			terminal.Tell(a.stdout, "no_athletes")
			return nil
		}
		t := terminal.NewTable(a.stdout)
		if !opts.json {
			terminal.Row(t, terminal.Text("athlete.name"), terminal.Text("athlete.visits"),
				terminal.Text("athlete.last"), terminal.Text("athlete.clips"),
				terminal.Text("athlete.height"), terminal.Text("athlete.number"))
		}
		for _, who := range athletes {
			visits, err := arc.Visits(ctx, who.ID)
			if err != nil {
				return err
			}
			clips, err := arc.ClipsOf(ctx, who.ID)
			if err != nil {
				return err
			}
			if opts.json {
				err := a.jsonLine(struct {
					archive.Athlete
					Visits int `json:"visits"`
					Clips  int `json:"clips"`
				}{who, len(visits), len(clips)})
				if err != nil {
					return err
				}
				continue
			}
			last, height := terminal.Missing, terminal.Missing
			if n := len(visits); n > 0 {
				last = visits[n-1].Date
			}
			if who.HeightCm != nil {
				height = fmt.Sprintf("%.0f cm", *who.HeightCm)
			}

			terminal.Row(t, oneLine(who.Name, 24), fmt.Sprint(len(visits)), last, fmt.Sprint(len(clips)), height, who.ID)
		}
		return t.Flush()
	})
}

func (a *app) jsonLine(v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	return a.jsonBytes(b)
}

// jsonBytes prints an encoded document of one line.
func (a *app) jsonBytes(doc []byte) error {
	if _, err := a.stdout.Write(append(printable.JSON(doc), '\n')); err != nil {
		return fmt.Errorf("%w: %w", resultdir.ErrCannotWrite, err)
	}
	return nil
}

// oneLine shortens a text to what a table has room for.
func oneLine(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

func newHistoryCommand(a *app) *cobra.Command {
	var opts archiveOptions
	cmd := &cobra.Command{
		Use:  "history ATHLETE",
		Args: arguments(1, 1, "athlete"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.runHistory(cmd.Context(), opts, args[0]) },
	}
	opts.AddFlags(cmd.Flags())
	cmd.Flags().BoolVar(&opts.json, "json", false, "")
	cmd.Flags().BoolVar(&opts.csv, "csv", false, "")
	return cmd
}

func (a *app) runHistory(ctx context.Context, opts archiveOptions, name string) error {
	return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
		who, err := arc.FindAthlete(ctx, name)
		if err != nil {
			return err
		}
		dated, err := datedAnalyses(ctx, arc, who.ID)
		if err != nil {
			return err
		}
		h := history.Of(dated)
		if opts.json {
			return a.jsonLine(h)
		}
		if opts.csv {
			return a.printTable(func(w io.Writer) error { return measures.History(w, dated) })
		}
		if len(h.Series) == 0 {
			terminal.Tell(a.stdout, "history_none", "athlete", who.Name)
			return nil
		}
		terminal.History(a.stdout, &h)
		terminal.Tell(a.stdout, "history_explained")
		terminal.Warnings(a.stderr, "", h.Warnings)
		return nil
	})
}

// datedAnalyses reads the measured clips of an athlete.
func datedAnalyses(ctx context.Context, arc *archive.Archive, athleteID string) ([]history.DatedAnalysis, error) {
	visits, err := arc.Visits(ctx, athleteID)
	if err != nil {
		return nil, err
	}
	byID := map[string]archive.Visit{}
	for _, v := range visits {
		byID[v.ID] = v
	}
	clips, err := arc.ClipsOf(ctx, athleteID)
	if err != nil {
		return nil, err
	}
	var out []history.DatedAnalysis
	for _, c := range clips {
		if c.Result == nil {
			continue
		}
		for _, f := range c.Result.Files {
			if f.Name != "analysis.json" {
				continue
			}
			if err := arc.Fetch(ctx, f.SHA256); err != nil {
				return nil, err
			}
			an, err := screening.LoadAnalysis(arc.FilePath(f.SHA256))
			if err != nil {
				return nil, err
			}
			v := byID[c.VisitID]
			load := math.NaN()
			if v.LoadKg != nil {
				load = *v.LoadKg
			}
			out = append(out, history.DatedAnalysis{Date: v.Date, Condition: v.Condition, LoadKg: load, ClipID: c.ID,
				Setting: c.Setting.Said(), Analysis: an})
		}
	}
	return out, nil
}

func newArchiveCommand(a *app) *cobra.Command {
	var opts archiveOptions
	cmd := &cobra.Command{
		Use:  "archive",
		Args: arguments(0, 0, "subcommand"),
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	opts.AddFlags(cmd.PersistentFlags())
	sub := func(use string, least, most int, what string, do func(ctx context.Context,
		args []string) error) *cobra.Command {
		c := &cobra.Command{Use: use, Args: arguments(least, most, what),
			RunE: func(cmd *cobra.Command, args []string) error { return do(cmd.Context(), args) }}
		cmd.AddCommand(c)
		return c
	}
	sub("check", 0, 0, "nothing", func(ctx context.Context, _ []string) error { return a.runArchiveCheck(ctx, opts) })
	sub("backup FILE", 1, 1, "file", func(ctx context.Context, args []string) error {
		return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
			if err := a.listDamage(arc.Backup(ctx, args[0])); err != nil {
				return err
			}
			terminal.Tell(a.stdout, "backed_up", "file", args[0])
			return nil
		})
	})
	var keepWhole bool
	restore := sub("restore FILE", 1, 1, "backup", func(ctx context.Context, args []string) error {
		if opts.Store != "" || opts.Database != "" {
			return usagef("restore_elsewhere")
		}
		dir, err := opts.Folder()
		if err != nil {
			return err
		}
		if err := a.listDamage(backup.Restore(ctx, args[0], dir, backup.Options{KeepWhole: keepWhole})); err != nil {
			return err
		}
		terminal.Tell(a.stdout, "restored", "folder", dir)
		return nil
	})
	restore.Flags().BoolVar(&keepWhole, "keep-whole", false, "")
	sub("export ATHLETE [FILE]", 1, 2, "athlete_and_file", func(ctx context.Context,
		args []string) error {
		return a.runArchiveExport(ctx, opts, args)
	})
	sub("join ATHLETE SIDE FRONT", 3, 3, "joined", func(ctx context.Context, args []string) error {
		return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
			return sets.Join(ctx, arc, args[0], args[1], args[2], a.stdout, a.stderr)
		})
	})
	sub("separate ATHLETE CLIP", 2, 2, "parted", func(ctx context.Context, args []string) error {
		return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
			return sets.Part(ctx, arc, args[0], args[1], a.stdout)
		})
	})
	var to place.Options
	moved := sub("move", 0, 0, "nothing", func(ctx context.Context, _ []string) error {
		p := terminal.NewProgress(a.stderr, a.stderrTerminal, a.now, terminal.Text("progress.archive"))
		files, rows, err := place.Move(ctx, opts.Options, to, a.now,
			func(done, total int) { p.Report("copying files", done, total) })
		p.End()
		if err == nil {
			terminal.Tell(a.stdout, "moved", "files", terminal.Counted("files", files), "rows", terminal.Counted("rows", rows))
		}
		return err
	})
	moved.Flags().StringVar(&to.Data, "to-data", "", "")
	moved.Flags().StringVar(&to.Database, "to-database", "", "")
	moved.Flags().StringVar(&to.Store, "to-store", "", "")
	var yes bool
	del := sub("delete ATHLETE", 1, 1, "athlete", func(ctx context.Context, args []string) error {
		return a.runArchiveDelete(ctx, opts,
			args[0], yes)
	})
	del.Flags().BoolVar(&yes, "yes", false, "")
	return cmd
}

// listDamage says line by line what is not whole, when that is what the error is about.
func (a *app) listDamage(err error) error {
	var part *archive.PartialError
	if errors.As(err, &part) {
		for _, line := range part.Damage {
			terminal.Say(a.stderr, "holdfast: %s\n", line)
		}
	}
	return err
}

func (a *app) runArchiveCheck(ctx context.Context, opts archiveOptions) error {
	return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
		rep, err := arc.Check(ctx)
		if err != nil {
			return err
		}
		for _, n := range rep.Notes {
			terminal.Tell(a.stdout, "archive_note", "note", n)
		}
		for _, p := range rep.Problems {
			terminal.Say(a.stderr, "holdfast: %s\n", p)
		}
		if n := len(rep.Problems); n > 0 {
			return fmt.Errorf("%w: %s", archive.ErrDamaged, terminal.Text("archive_problems", "n", n))
		}
		terminal.Tell(a.stdout, "archive_well", "files", terminal.Counted("files", rep.Files), "rows",
			terminal.Counted("rows", rep.Rows))
		return nil
	})
}

func (a *app) runArchiveExport(ctx context.Context, opts archiveOptions, args []string) error {
	return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
		who, err := arc.FindAthlete(ctx, args[0])
		if err != nil {
			return err
		}
		path := safeName(who.Name, "athlete") + ".zip"
		if len(args) > 1 {
			path = args[1]
		}
		if err := a.listDamage(arc.ExportFile(ctx, who.ID, path)); err != nil {
			return err
		}
		terminal.Tell(a.stdout, "exported", "athlete", who.Name, "file", path)
		return nil
	})
}

func (a *app) runArchiveDelete(ctx context.Context, opts archiveOptions, name string, yes bool) error {
	return a.withArchive(ctx, opts, func(arc *archive.Archive) error {
		who, err := arc.FindAthlete(ctx, name)
		if err != nil {
			return err
		}
		if !yes {
			terminal.Say(a.stderr, "%s ", terminal.Text("delete_ask", "athlete", who.Name))
			answer, err := bufio.NewReader(io.LimitReader(a.stdin, 4096)).ReadString('\n')
			if err != nil && !errors.Is(err, io.EOF) {
				return fmt.Errorf("reading the answer: %w", err)
			}
			if said := strings.TrimSpace(answer); said != who.Name && said != printable.Line(who.Name) {
				return usagef("not_deleted")
			}
		}
		gone, err := arc.DeleteAthlete(ctx, who.ID)
		if err != nil {
			return err
		}
		terminal.Tell(a.stdout, "deleted", "athlete", gone.Athlete, "all", []string{
			terminal.Counted("visits", gone.Visits), terminal.Counted("clips", gone.Clips),
			terminal.Counted("results", gone.Results),
			terminal.Counted("comparisons", gone.Comparisons), terminal.Counted("uploads", gone.Uploads),
			terminal.Counted("files", gone.Files),
		}, "megabytes", float64(gone.Bytes)/1e6)
		return nil
	})
}
