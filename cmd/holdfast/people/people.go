// Package people is the commands about users of a page that asks for names: who may come in, whose an athlete is, and
// who did what.
package people

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"holdfast/archive"
	"holdfast/archive/users"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
)

// Console is where the commands read and print.
type Console struct {
	In       io.Reader
	Out, Err io.Writer
}

// with opens an archive that is there, and closes it after do.
func with(ctx context.Context, in place.Options, do func(*archive.Archive) error) error {
	dir, err := in.Folder()
	if err != nil {
		return err
	}
	arc, err := in.Open(ctx, dir, archive.Options{MustExist: true})
	if err != nil {
		return err
	}
	return errors.Join(do(arc), arc.Close())
}

// byCommand is who acts where a command does: whoever may use it has the database anyway.
const byCommand = "holdfast users"

// change changes users and writes that down.
func change(ctx context.Context, in place.Options, what string, do func(*archive.Archive) error) error {
	return with(ctx, in, func(arc *archive.Archive) error {
		if err := do(arc); err != nil {
			return err
		}
		return arc.Users().Note(ctx, users.Act{Who: byCommand, What: what, Kind: "user"})
	})
}

// NewUsers returns the command that looks after users.
func NewUsers(c Console) *cobra.Command {
	var in place.Options
	cmd := &cobra.Command{
		Use:  "users",
		Args: terminal.Arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	for _, below := range []*cobra.Command{c.newAdd(&in), c.newList(&in), c.newPassword(&in), c.newRole(&in),
		c.newRemove(&in), c.newGive(&in)} {
		in.AddFlags(below.Flags())
		cmd.AddCommand(below)
	}
	return cmd
}

func (c Console) newAdd(in *place.Options) *cobra.Command {
	var role, file string
	cmd := &cobra.Command{
		Use:     "add NAME",
		Example: `  holdfast users add "Kim Vale" --role admin`,
		Args:    terminal.Arguments(1, 1, "user"),
		RunE: func(cmd *cobra.Command, args []string) error {
			password, err := c.password(file)
			if err != nil {
				return err
			}
			return change(cmd.Context(), *in, users.Added, func(arc *archive.Archive) error {
				user, err := arc.Users().Add(cmd.Context(), args[0], users.Role(role), password)
				if err == nil {
					terminal.Tell(c.Out, "user_added", "name", user.Name, "role", string(user.Role))
				}
				return err
			})
		},
	}
	cmd.Flags().StringVar(&role, "role", string(users.Coach), "")
	cmd.Flags().StringVar(&file, "password-file", "", "")
	return cmd
}

func (c Console) newList(in *place.Options) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:  "list",
		Args: terminal.Arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return with(cmd.Context(), *in, func(arc *archive.Archive) error {
				all, err := arc.Users().List(cmd.Context())
				if err != nil {
					return err
				}
				if len(all) == 0 && !asJSON {
					terminal.Tell(c.Out, "no_users")
				}
				t := terminal.NewTable(c.Out)
				for _, u := range all {
					if asJSON {
						if err := c.line(u); err != nil {
							return err
						}
						continue
					}
					terminal.Row(t, u.Name, terminal.Text("role."+string(u.Role)), u.CreatedAt.Local().Format("2006-01-02"))
				}
				return t.Flush()
			})
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

func (c Console) newPassword(in *place.Options) *cobra.Command {
	var file string
	cmd := &cobra.Command{
		Use:  "password NAME",
		Args: terminal.Arguments(1, 1, "user"),
		RunE: func(cmd *cobra.Command, args []string) error {
			password, err := c.password(file)
			if err != nil {
				return err
			}
			return change(cmd.Context(), *in, users.Changed, func(arc *archive.Archive) error {
				return c.done(arc.Users().SetPassword(cmd.Context(), args[0], password))
			})
		},
	}
	cmd.Flags().StringVar(&file, "password-file", "", "")
	return cmd
}

func (c Console) newRole(in *place.Options) *cobra.Command {
	return &cobra.Command{
		Use:  "role NAME ROLE",
		Args: terminal.Arguments(2, 2, "user_role"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return change(cmd.Context(), *in, users.Changed, func(arc *archive.Archive) error {
				return c.done(arc.Users().SetRole(cmd.Context(), args[0], users.Role(args[1])))
			})
		},
	}
}

func (c Console) newRemove(in *place.Options) *cobra.Command {
	return &cobra.Command{
		Use:  "remove NAME",
		Args: terminal.Arguments(1, 1, "user"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return change(cmd.Context(), *in, users.Deleted, func(arc *archive.Archive) error {
				return c.done(arc.Users().Remove(cmd.Context(), args[0]))
			})
		},
	}
}

func (c Console) newGive(in *place.Options) *cobra.Command {
	var unclaimed bool
	cmd := &cobra.Command{
		Use: "give NAME [ATHLETE...]",
		Example: `  holdfast users give "Kim Vale" "Sam Example"
  holdfast users give "Kim Vale" --unclaimed`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 || unclaimed != (len(args) == 1) {
				return terminal.Usage("give")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return with(ctx, *in, func(arc *archive.Archive) error {
				user, err := arc.Users().Find(ctx, args[0])
				if err != nil {
					return err
				}
				ids, err := given(ctx, arc, args[1:], unclaimed)
				if err == nil {
					err = arc.GiveAthletes(ctx, user.ID, ids...)
				}
				for _, id := range ids {
					if err == nil {
						err = arc.Users().Note(ctx, users.Act{Who: byCommand, What: users.Changed, Kind: "athlete", Thing: id,
							Athlete: id})
					}
				}
				if err == nil {
					terminal.Tell(c.Out, "given", "athletes", terminal.Counted("athletes", len(ids)), "name", user.Name)
				}
				return err
			})
		},
	}
	cmd.Flags().BoolVar(&unclaimed, "unclaimed", false, "")
	return cmd
}

// given lists the ids of athletes by their names, or of those that are nobody's.
func given(ctx context.Context, arc *archive.Archive, names []string, unclaimed bool) (ids []string, err error) {
	for _, name := range names {
		who, err := arc.FindAthlete(ctx, name)
		if err != nil {
			return nil, err
		}
		ids = append(ids, who.ID)
	}
	if !unclaimed {
		return ids, nil
	}
	all, err := arc.Athletes(ctx)
	for _, who := range all {
		if who.Coach == "" {
			ids = append(ids, who.ID)
		}
	}
	return ids, err
}

// done says that it is, unless it is not.
func (c Console) done(err error) error {
	if err == nil {
		terminal.Tell(c.Out, "user_changed")
	}
	return err
}

func (c Console) line(v any) error {
	text, err := json.Marshal(v)
	if err == nil {
		_, err = c.Out.Write(append(text, '\n'))
	}
	return err
}

// password reads a password: the first line of a file or of what comes in, or what is typed twice, unseen.
func (c Console) password(file string) (string, error) {
	if f, ok := c.In.(*os.File); file == "" && ok && term.IsTerminal(int(f.Fd())) {
		var typed [2]string
		for i, ask := range []string{"password_type", "password_again"} {
			terminal.Say(c.Err, "%s ", terminal.Text(ask))
			text, err := term.ReadPassword(int(f.Fd()))
			terminal.Say(c.Err, "\n")
			if err != nil {
				return "", err
			}
			typed[i] = string(text)
		}
		if typed[0] != typed[1] {
			return "", terminal.Usage("password_differs")
		}
		return typed[0], nil
	}
	from := c.In
	if file != "" {
		f, err := os.Open(file)
		if err != nil {
			return "", terminal.Usage("password_file", "error", err)
		}
		defer f.Close()
		from = f
	}
	text, err := bufio.NewReader(io.LimitReader(from, 4<<10)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", terminal.Usage("password_file", "error", err)
	}
	return strings.TrimRight(text, "\r\n"), nil
}
