package main

import (
	"fmt"
	"io"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"limbwatch/catalog/observe"
)

// app is what all commands share: the streams, the clock and the catalogue,
// which is opened by the first command that asks for it.
type app struct {
	catalogPath    string
	stdin          io.Reader
	stdout, stderr io.Writer
	now            func() time.Time
	getenv         func(string) string
	started        bool   // a command has begun: errors are no longer misuse
	begins, dryRun bool   // what runs may make a catalogue; only tries
	scratchFolder  string // of a catalogue for trying, "" for none
	opened         *observe.Keeper
	made           bool // there was none before, and nobody was told yet
	ofTheDay       bool // started by another to make the day's backup
}

var rootLong = `limbwatch turns pictures of the whole Sun, taken through a narrow-band (H-alpha)
or white-light telescope, into a record: it finds the disc and its north, reads
heliographic positions with error bars off it, keeps them in a catalogue, and
follows each feature across the disc from day to day.

Times are UTC and shown with a Z. Pixels count from the centre of the top-left
pixel, x right, y down. Longitudes on the Sun and distances from the central
meridian are west positive; site longitudes are east positive.

` + wrapped(cautions[0], 80) + `
` + wrapped(cautions[len(cautions)-1], 80) + `

Exit codes: 0 done, 1 failed, 2 misused.`

func newRootCommand(app *app) *cobra.Command {
	root := &cobra.Command{
		Use:           "limbwatch",
		Short:         "Turn pictures of the Sun into a record of positions",
		Long:          rootLong,
		Example:       "  limbwatch demo\n  limbwatch sun --at 2026-03-14T15:23:10Z\n  limbwatch disc find sun.png",
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          onlySubcommands,
		RunE:          app.greet,
	}
	root.PersistentFlags().StringVar(&app.catalogPath, "catalogue", "",
		"the catalogue's `file` (default: LIMBWATCH_CATALOGUE, else in your data folder)")
	root.CompletionOptions.HiddenDefaultCmd = false
	root.Flags().Bool("version", false, "print the version")
	root.Version = thisBuild().Version
	root.SetVersionTemplate("limbwatch {{.Version}}\n")
	root.AddCommand(
		newDemoCommand(app),
		newSunCommand(app),
		newPlaceCommand(app),
		newDiscCommand(app),
		newObserverCommand(app),
		newSiteCommand(app),
		newInstrumentCommand(app),
		newFrameCommand(app),
		newNorthCommand(app),
		newMarkCommand(app),
		newSittingCommand(app),
		newLogCommand(app),
		newTrackCommand(app),
		newEdgeCommand(app),
		newExpectCommand(app),
		newChartCommand(app),
		newImportCommand(app),
		newExportCommand(app),
		begins(newDeskCommand(app), ""),
		newUndoCommand(app),
		newRedoCommand(app),
		newHistoryCommand(app),
		newCatalogueCommand(app),
		newVersionCommand(),
	)
	addManual(root)
	spellAlike(root)
	readOnOneLine(root)
	root.SetOut(app.stdout) // before cobra adds its own commands, which remember it
	adviseUsage(root)
	app.completeWords(root)
	app.watchStart(root)
	return root
}

// spellAlike lets the flag and the commands of the catalogue answer to the other spelling of
// the word too. Help shows one.
func spellAlike(root *cobra.Command) {
	root.SetGlobalNormalizationFunc(func(_ *pflag.FlagSet, name string) pflag.NormalizedName {
		if name == "catalog" {
			name = "catalogue"
		}
		return pflag.NormalizedName(name)
	})
	for _, cmd := range root.Commands() {
		if cmd.Name() == "catalogue" {
			cmd.Aliases = append(cmd.Aliases, "catalog")
		}
	}
	root.SetUsageTemplate(aliases.ReplaceAllString(root.UsageTemplate(), ""))
}

// aliases is the part of a usage text that lists other names.
var aliases = regexp.MustCompile(`(?s)\{\{if gt \(len \.Aliases\) 0\}\}.*?\{\{end\}\}`)

// watchStart lets the app know when a command's own work begins: an error before
// that, in flags or arguments, is misuse.
func (a *app) watchStart(cmd *cobra.Command) {
	if work := cmd.RunE; work != nil {
		cmd.RunE = func(cmd *cobra.Command, args []string) error {
			if err := refuseEmpty(cmd); err != nil {
				return err
			}
			a.started = true
			a.begins = mayBegin(cmd)
			a.dryRun = cmd.Annotations[beginsKey] == dryRunFlag && cmd.Flags().Changed(dryRunFlag)
			return work(cmd, args)
		}
	}
	for _, sub := range cmd.Commands() {
		a.watchStart(sub)
	}
}

// group is a command that only holds others.
func group(use, short, long string, subs ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, Long: long, Args: onlySubcommands, RunE: showHelp}
	cmd.AddCommand(subs...)
	return cmd
}

func showHelp(cmd *cobra.Command, _ []string) error { return cmd.Help() }

// onlySubcommands refuses a word that names no command, with the nearest ones.
func onlySubcommands(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	err := fmt.Errorf("%q is no command of %q", args[0], cmd.CommandPath())
	cmd.SuggestionsMinimumDistance = 2 // letters that are wrong
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		return withHint(err, "did you mean %s?", strings.Join(near, " or "))
	}
	return withHint(err, "see %s --help", cmd.CommandPath())
}
