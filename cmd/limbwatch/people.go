package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

func newObserverCommand(app *app) *cobra.Command {
	return group("observer", "Keep who observes", "",
		begins(newObserverAddCommand(app), ""),
		newObserverListCommand(app),
		newObserverEditCommand(app),
		newObserverRemoveCommand(app),
	)
}

// observerOptions are an observer's particulars as flags.
type observerOptions struct {
	code, note, rename string
	isDefault          bool
}

func (o *observerOptions) addFlags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.code, "code", "", "the `letters` by which a club knows the observer")
	cmd.Flags().StringVar(&o.note, "note", "", "anything else, as `text`")
	cmd.Flags().BoolVar(&o.isDefault, "default", false, "meant from now on when no observer is named")
	mayBeEmpty(cmd, "code", "note")
}

// apply puts what was typed into an observer.
func (o *observerOptions) apply(cmd *cobra.Command, to *catalog.Observer) {
	set := cmd.Flags().Changed
	if set("name") {
		to.Name = o.rename
	}
	if set("code") {
		to.Code = o.code
	}
	if set("note") {
		to.Note = o.note
	}
	if set("default") {
		to.Default = o.isDefault
	}
}

func newObserverAddCommand(app *app) *cobra.Command {
	var opts observerOptions
	cmd := &cobra.Command{
		Use:     "add NAME",
		Short:   "Add an observer; the first is the default",
		Example: `  limbwatch observer add "Wren Holloway" --code WH`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			o := catalog.Observer{Name: args[0]}
			opts.apply(cmd, &o)
			if err := typed(o); err != nil {
				return err
			}
			if o, err = k.AddObserver(cmd.Context(), o); err != nil {
				return adviseTaken(err, "an observer", args[0], "observer list")
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s\n", o.ID, o.Name)
			return err
		},
	}
	opts.addFlags(cmd)
	return cmd
}

func newObserverEditCommand(app *app) *cobra.Command {
	var opts observerOptions
	cmd := &cobra.Command{
		Use:     "edit OBSERVER",
		Short:   "Change an observer's name, code or note, or choose the default",
		Example: `  limbwatch observer edit O2 --default`,
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			o, err := findObserver(k.Store.Read(cmd.Context()), args[0])
			if err != nil {
				return err
			}
			opts.apply(cmd, &o)
			if err := typed(o); err != nil {
				return err
			}
			name := o.Name
			if o, err = k.EditObserver(cmd.Context(), o); err != nil {
				return adviseTaken(err, "an observer", name, "observer list")
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s %s\n", o.ID, o.Name)
			return err
		},
	}
	cmd.Flags().StringVar(&opts.rename, "name", "", "a new `name`")
	opts.addFlags(cmd)
	return cmd
}

func newObserverRemoveCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "remove OBSERVER",
		Short:   "Take an observer out of sight who has no sitting (undo brings them back)",
		Example: "  limbwatch observer remove O2",
		Args:    cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			o, err := findObserver(k.Store.Read(cmd.Context()), args[0])
			if err != nil {
				return err
			}
			return adviseStore(k.RemoveObserver(cmd.Context(), o.ID, o.Revision))
		},
	}
}

// observerRow is an observer as JSON names it.
type observerRow struct {
	ID      catalog.ObserverID `json:"observer"`
	UUID    string             `json:"uuid"`
	Name    string             `json:"name"`
	Code    string             `json:"code"`
	Default bool               `json:"default"`
	Note    string             `json:"note"`
}

func newObserverListCommand(app *app) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the observers",
		Example: "  limbwatch observer list --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			k, err := app.keeper(cmd.Context())
			if err != nil {
				return err
			}
			observers, err := k.Store.Read(cmd.Context()).Observers()
			if err != nil {
				return err
			}
			return printObservers(cmd.OutOrStdout(), observers, asJSON)
		},
	}
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printObservers(w io.Writer, observers []catalog.Observer, asJSON bool) error {
	rows := make([]observerRow, len(observers))
	t := newTable("", "observer", "code", "note")
	for i, o := range observers {
		rows[i] = observerRow{o.ID, o.UUID.String(), o.Name, o.Code, o.Default, o.Note}
		t.add(o.ID.String(), o.Name+defaultMark(o.Default), o.Code, o.Note)
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no observer yet: limbwatch observer add NAME")
}

// findObserver takes an id, a name, or the code by which a club knows somebody.
func findObserver(v *store.View, text string) (catalog.Observer, error) {
	if id, err := catalog.ParseObserverID(text); err == nil {
		o, err := v.Observer(id)
		return o, adviseStore(err)
	}
	o, err := v.ObserverNamed(text)
	if err == nil {
		return o, nil
	}
	if coded, ok := observerCoded(v, text); ok && isMissing(err) {
		return coded, nil
	}
	return o, withHint(err, "see limbwatch observer list")
}

// observerCoded is the only observer of a code.
func observerCoded(v *store.View, code string) (found catalog.Observer, ok bool) {
	observers, err := v.Observers()
	if err != nil || code == "" {
		return found, false
	}
	for _, o := range observers {
		if strings.EqualFold(o.Code, code) {
			if ok {
				return found, false // two share it
			}
			found, ok = o, true
		}
	}
	return found, ok
}

// defaultMark follows the name of what is meant when none is named.
func defaultMark(isDefault bool) string {
	if isDefault {
		return " (default)"
	}
	return ""
}
