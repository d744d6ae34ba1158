package terminal

import "github.com/spf13/cobra"

// UsageError says what is wrong with the command line.
type UsageError string

func (e UsageError) Error() string { return string(e) }

// Usage says what is wrong with the command line, in a text under usage with its parameters.
func Usage(key string, with ...any) error { return UsageError(Text("usage."+key, with...)) }

// Arguments refuses a number of arguments outside the limits; a most of 0 means
// no limit.
func Arguments(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < least || (most > 0 && len(args) > most) || (most == 0 && least == 0 && len(args) > 0) {
			return Usage("arguments",
				"name", cmd.Name(), "what", Text("takes."+what), "number", len(args), "command", cmd.CommandPath())
		}
		return nil
	}
}
