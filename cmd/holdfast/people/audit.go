package people

import (
	"cmp"
	"context"
	"errors"
	"time"

	"github.com/spf13/cobra"

	"holdfast/archive"
	"holdfast/archive/users"
	"holdfast/cmd/holdfast/place"
	"holdfast/cmd/holdfast/terminal"
)

// NewAudit returns the command that tells who did what.
func NewAudit(c Console) *cobra.Command {
	var in place.Options
	var since string
	var asJSON bool
	cmd := &cobra.Command{
		Use:  "audit",
		Args: terminal.Arguments(0, 0, "nothing"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			from := time.Time{}
			if since != "" {
				var err error
				if from, err = time.ParseInLocation(time.DateOnly, since, time.Local); err != nil {
					return terminal.Usage("since", "given", since)
				}
			}
			return with(cmd.Context(), in, func(arc *archive.Archive) error {
				acts, err := arc.Users().Acts(cmd.Context(), from, -1)
				if err != nil {
					return err
				}
				return c.audit(cmd.Context(), arc, acts, asJSON)
			})
		},
	}
	in.AddFlags(cmd.Flags())
	cmd.Flags().StringVar(&since, "since", "", "")
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

// audit prints acts. Who an athlete is is looked up: a name that was deleted is nowhere.
func (c Console) audit(ctx context.Context, arc *archive.Archive, acts []users.Act, asJSON bool) error {
	if len(acts) == 0 && !asJSON {
		terminal.Tell(c.Out, "no_acts")
		return nil
	}
	t, names := terminal.NewTable(c.Out), map[string]string{"": ""}
	if !asJSON {
		terminal.Row(t, terminal.Text("act.at"), terminal.Text("act.who"), terminal.Text("act.did"),
			terminal.Text("act.athlete"), terminal.Text("act.thing"))
	}
	for _, a := range acts {
		if asJSON {
			if err := c.line(a); err != nil {
				return err
			}
			continue
		}
		name, known := names[a.Athlete]
		if !known {
			who, err := arc.Athlete(ctx, a.Athlete)
			switch {
			case errors.Is(err, archive.ErrNotFound):
				who.Name = terminal.Text("act.gone")
			case err != nil:
				return err
			}
			name = who.Name
			names[a.Athlete] = name
		}
		terminal.Row(t, a.At.Local().Format("2006-01-02 15:04:05"), a.Who,
			terminal.Text("act."+a.What, "kind", terminal.Text("act.kind_"+cmp.Or(a.Kind, "none"))), name, a.Thing)
	}
	return t.Flush()
}
