package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

func newUndoCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:   "undo",
		Short: "Take back the newest change made from the terminal",
		Long: `Undo takes back the newest change that was made from the terminal and still
stands; said again, the one before it. It works across restarts. Changes made on
the page are taken back there. When a later change stands in the way it says so.`,
		Example: "  limbwatch undo",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			op, err := k.Undo(ctx)
			if err != nil {
				return adviseHistory(err)
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "undone: %s\n", op.Title)
			return err
		}),
	}
}

func newRedoCommand(app *app) *cobra.Command {
	return &cobra.Command{
		Use:     "redo",
		Short:   "Do again what undo took back last",
		Example: "  limbwatch redo",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			op, err := k.Redo(ctx)
			if err != nil {
				return adviseHistory(err)
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "redone: %s\n", op.Title)
			return err
		}),
	}
}

func adviseHistory(err error) error {
	if e, ok := errors.AsType[*store.ConflictError](err); ok && e.Gone {
		return withHint(err, "do %s again first, where it was taken back, or see limbwatch history", e.Later.Of)
	}
	if e, ok := errors.AsType[*store.ConflictError](err); ok && e.Later.ID != 0 {
		return withHint(err, "take back %s first, or see limbwatch history", e.Later.ID)
	}
	if e, ok := errors.AsType[*store.NothingToUndoError](err); ok {
		what := "undo: no change made from the terminal stands any more"
		if e.Redo {
			what = "redo: nothing was undone last"
		}
		return withHint(fmt.Errorf("nothing to %s", what), "see limbwatch history")
	}
	return err
}

// operationRow is an entry of the history as JSON names it.
type operationRow struct {
	Operation catalog.OperationID `json:"operation"`
	UTC       string              `json:"utc"`
	Act       catalog.Act         `json:"act"`
	Of        catalog.OperationID `json:"of"`
	Title     string              `json:"title"`
	Origin    catalog.Origin      `json:"origin"`
	Undone    bool                `json:"undone"`
}

func newHistoryCommand(app *app) *cobra.Command {
	var limit int
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "history",
		Short:   "List what was done to the catalogue, newest first",
		Example: "  limbwatch history --limit 50",
		Args:    cobra.NoArgs,
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, _ []string) error {
			if limit < 1 {
				return misuse("--limit %d: want 1 or more", limit)
			}
			operations, err := k.Store.Read(ctx).History("", limit)
			if err != nil {
				return err
			}
			return printHistory(cmd.OutOrStdout(), operations, asJSON)
		}),
	}
	cmd.Flags().IntVar(&limit, "limit", 20, "how `many` to list")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printHistory(w io.Writer, operations []catalog.Operation, asJSON bool) error {
	rows := make([]operationRow, len(operations))
	t := newTable("", "when", "by", "what")
	for i, op := range operations {
		rows[i] = operationRow{op.ID, formatUTC(op.At), op.Act, op.Of, op.Title, op.Origin, op.Undone}
		what := op.Title
		switch {
		case op.Act == catalog.Undone, op.Act == catalog.Redone:
			what += fmt.Sprintf(" (%s)", op.Of)
		case op.Undone:
			what += " (taken back)"
		}
		t.add(op.ID.String(), op.At.UTC().Format("2006-01-02 15:04:05Z"), string(op.Origin), what)
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "nothing was done yet")
}
