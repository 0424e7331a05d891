package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

// beginsKey annotates the commands that may make the catalogue: those that keep something
// that hangs on nothing kept before. All others read or change what is there, and make none.
// Its value names the flag with which even such a command only looks up, if there is one.
const beginsKey = "limbwatch begins"

// dryRunFlag is the flag with which a command keeps nothing.
const dryRunFlag = "dry-run"

// begins marks a command as one that may make the catalogue, unless that flag is given.
func begins(cmd *cobra.Command, unless string) *cobra.Command {
	cmd.Annotations = map[string]string{beginsKey: unless}
	return cmd
}

// mayBegin says whether the command line that runs may make a catalogue.
func mayBegin(cmd *cobra.Command) bool {
	unless, ok := cmd.Annotations[beginsKey]
	return ok && (unless == "" || !cmd.Flags().Changed(unless))
}

// noCatalogueError is a catalogue that is not there, for a command that makes none.
type noCatalogueError struct{ path string }

func (e *noCatalogueError) Error() string { return "there is no catalogue yet: " + e.path }

// adviseNoCatalogue says how one comes about.
func (a *app) adviseNoCatalogue(path string) error {
	var err error = &noCatalogueError{path}
	if a.catalogPath != "" || a.fromEnvironment() != "" {
		err = withHint(err, "name the one that you mean with --catalogue or LIMBWATCH_CATALOGUE")
	}
	err = withHint(err, "limbwatch alone tells how to begin; limbwatch demo shows it all on painted days")
	return withHint(err, "the first thing that you keep makes it, as limbwatch observer add NAME, limbwatch frame add PICTURE, or the page, limbwatch desk")
}

// scratch opens an empty catalogue that is gone when the program ends, for a dry run where
// there is none to try on.
func (a *app) scratch(ctx context.Context) (observe.Keeper, error) {
	folder, err := os.MkdirTemp("", "limbwatch-dry-run-")
	if err != nil {
		return observe.Keeper{}, err
	}
	a.scratchFolder = folder
	fmt.Fprintln(a.stderr, "limbwatch: note: there is no catalogue yet; tried on an empty one")
	return observe.Open(ctx, filepath.Join(folder, "catalogue.db"), catalog.Terminal, a.now)
}

// beginning is how to begin, said where there is no catalogue yet.
const beginning = `There is no catalogue yet (it would be %s). To begin, either see it all
on painted days, which touch nothing of yours,

  limbwatch demo

or open the marking page in your browser and drop your pictures of the Sun onto it,

  limbwatch desk

or say at the terminal who observes, where and with what, and add the first picture:

  limbwatch observer add "YOUR NAME"
  limbwatch site add "YOUR GARDEN" --lat 50.91 --lon -2.13 --zone Europe/London
  limbwatch instrument add "YOUR TELESCOPE" --aperture 60 --focal 400 --passband 0.7 --stacked 1
  limbwatch frame add PICTURE

All commands: limbwatch --help
`

// greet answers the bare name of the program: with its help, or, where nothing is kept yet,
// with how to begin.
func (a *app) greet(cmd *cobra.Command, _ []string) error {
	path := a.cataloguePath()
	isNew, err := a.isNew(path)
	if err != nil || !isNew {
		return errors.Join(err, cmd.Help())
	}
	return sayBeginning(cmd.OutOrStdout(), cmd.Short, path)
}

func sayBeginning(w io.Writer, short, path string) error {
	_, err := fmt.Fprintf(w, "limbwatch: %s.\n\n%s\n\n"+beginning, short, wrapped(cautions[0], 80), path)
	return err
}
