package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// adviseUsage gives every command's complaints about flags and arguments a line
// that says how it is used, and makes the commands that cobra adds by itself
// (completion, help) as strict as ours.
func adviseUsage(root *cobra.Command) {
	root.InitDefaultCompletionCmd()
	root.SetHelpCommand(newHelpCommand(root))
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		if errors.Is(err, pflag.ErrHelp) {
			return err
		}
		return withHint(badValue(err), "see %s --help", cmd.CommandPath())
	})
	adviseArguments(root)
}

func adviseArguments(cmd *cobra.Command) {
	for _, sub := range cmd.Commands() {
		adviseArguments(sub)
	}
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if f.DefValue == "[]" {
			f.DefValue = "" // an empty list is no default to tell of
		}
	})
	if cmd.Name() == "completion" {
		cmd.Args, cmd.RunE = onlySubcommands, showHelp
		return
	}
	check := cmd.Args
	if check == nil {
		return
	}
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		err := check(cmd, args)
		if err == nil || len(hints(err)) > 0 {
			return err
		}
		return withHint(errors.New(argumentsWanted(cmd, args)), "usage: %s", cmd.UseLine())
	}
}

// argumentsWanted says which arguments there should have been.
func argumentsWanted(cmd *cobra.Command, args []string) string {
	_, wanted, _ := strings.Cut(cmd.Use, " ")
	if wanted == "" {
		wanted = "no arguments"
	}
	if len(args) == 0 {
		return fmt.Sprintf("want %s, got nothing", wanted)
	}
	return fmt.Sprintf("want %s, got %s", wanted, strings.Join(args, ", "))
}

func newHelpCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Explain a command",
		Example: "  limbwatch help mark add",
		RunE: func(_ *cobra.Command, args []string) error {
			found, rest, err := root.Find(args)
			if err == nil && len(rest) > 0 {
				err = onlySubcommands(found, rest)
			}
			if err != nil {
				return &misuseError{err}
			}
			found.InitDefaultHelpFlag()
			return found.Help()
		},
	}
}

// asBefore says of a flag of a command that changes something that, untyped, it leaves that
// as it is: the default of the command that adds such a thing does not hold. otherwise is
// what holds where there was nothing before; empty says nothing of that.
func asBefore(cmd *cobra.Command, name, otherwise string) {
	flag := cmd.Flags().Lookup(name)
	flag.Usage += " (default: as before"
	if otherwise != "" {
		flag.Usage += ", or " + otherwise
	}
	flag.Usage += ")"
	if flag.DefValue = ""; flag.Value.Type() == "float64" {
		flag.DefValue = "0"
	}
}
