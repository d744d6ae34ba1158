package terminal

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"holdfast/words"
)

// SpeakHelp gives a command, those below it and their flags the help that the catalogue has for
// them: a command's under [help.COMMAND], a flag's there or, where several commands share it, under
// [help.flag].
func SpeakHelp(root *cobra.Command) {
	of := func(key, param, value string) string { return words.Say("help."+key, words.Params{param: value}) }
	root.InitDefaultVersionFlag()
	root.InitDefaultHelpCmd()
	root.InitDefaultCompletionCmd()
	root.SetUsageTemplate(strings.NewReplacer(
		"Usage:", words.Say("help.usage", nil), "Aliases:", words.Say("help.aliases", nil),
		"Examples:", words.Say("help.examples", nil), "Available Commands:", words.Say("help.commands", nil),
		"Global Flags:", words.Say("help.global_flags", nil), "Flags:", words.Say("help.flags", nil),
		`Use "{{.CommandPath}} [command] --help" for more information about a command.`,
		of("more", "command", "{{.CommandPath}} [command]"),
	).Replace(root.UsageTemplate()))
	var speak func(*cobra.Command)
	speak = func(cmd *cobra.Command) {
		cmd.InitDefaultHelpFlag()
		section := "help." + strings.ReplaceAll(cmd.CommandPath(), " ", "_") + "."
		cmd.Short = words.Say(section+"short", nil)
		cmd.Long = words.Or(section+"long", cmd.Short) + "\n\n" + words.Say("help.exit_codes", nil)
		set := func(f *pflag.Flag) {
			switch {
			case f.Name == "help":
				f.Usage = of("of_command", "command", cmd.Name())
			case f.Name == "version" && cmd == root:
				f.Usage = of("version", "command", cmd.Name())
			default:
				f.Usage = words.Or(section+"flag."+f.Name, words.Say("help.flag."+f.Name, nil))
			}
			sayDefault(f)
		}
		cmd.LocalNonPersistentFlags().VisitAll(set)
		cmd.PersistentFlags().VisitAll(set)
		for _, below := range cmd.Commands() {
			speak(below)
		}
	}
	speak(root)
}

// sayDefault moves what a flag is when it is not given into its help: the library would say it in
// English.
func sayDefault(f *pflag.Flag) {
	kind := f.Value.Type()
	switch f.DefValue {
	case "", "0", "false", "[]", "<nil>":
		return
	}
	value := f.DefValue
	f.DefValue = map[string]string{"float64": "0"}[kind]
	if kind == "string" {
		value = fmt.Sprintf("%q", value)
	}
	f.Usage += " " + words.Say("help.default", words.Params{"value": value})
}
