package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// restoreRow tells of a restoration, or of what it would change.
type restoreRow struct {
	Backup   string            `json:"backup"`
	DryRun   bool              `json:"dry_run"`
	Days     []differentDayRow `json:"days_that_differ"`
	Undoing  []operationRow    `json:"changes_given_up"`
	Aside    string            `json:"kept_as,omitempty"`
	Pictures int               `json:"pictures_put_back"`
	Missing  []string          `json:"pictures_missing"`
}

type differentDayRow struct {
	Day        string `json:"day"`
	FramesNow  int    `json:"frames_now"`
	MarksNow   int    `json:"marks_now"`
	FramesThen int    `json:"frames_then"`
	MarksThen  int    `json:"marks_then"`
}

func newRestoreCommand(app *app) *cobra.Command {
	var dryRun, asJSON bool
	cmd := &cobra.Command{
		Use:   "restore [BACKUP]",
		Short: "Put a backup in the place of the catalogue, and keep what stood there",
		Long: `Without BACKUP restore lists the backups that there are. With one (a name from the list,
its date, or a file from elsewhere) it shows which days differ and which changes would
be given up, and puts it in the catalogue's place with the pictures that are missing.
What stood there is kept beside it; restore puts that back, too. It is refused while
another program, as the page, has the catalogue open.`,
		Example: "  limbwatch catalogue restore\n  limbwatch catalogue restore 2026-03-14 --dry-run\n  limbwatch catalogue restore 2026-03-14",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			list, err := observe.Backups(app.cataloguePath(), app.backupFolder())
			if err != nil {
				return err
			}
			_, err = os.Stat(app.cataloguePath())
			nothing := errors.Is(err, fs.ErrNotExist) && len(list) == 0
			if len(args) == 0 && nothing {
				return app.adviseNoCatalogue(app.cataloguePath())
			}
			if len(args) == 0 {
				return printBackups(cmd.OutOrStdout(), list, asJSON)
			}
			backup, err := app.namedBackup(args[0], list)
			if err != nil && nothing {
				return app.adviseNoCatalogue(app.cataloguePath())
			}
			if err != nil {
				return err
			}
			return app.restore(cmd.Context(), cmd.OutOrStdout(), backup, dryRun, asJSON)
		},
	}
	cmd.Flags().BoolVar(&dryRun, dryRunFlag, false, "show what would differ, and change nothing")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printBackups(w io.Writer, list []observe.Backup, asJSON bool) error {
	rows := []backupRow{}
	t := newTable("made", "", "file")
	for _, b := range list {
		rows = append(rows, backupRow{File: b.Path, UTC: formatUTC(b.At), Bytes: b.Bytes, Lacking: []string{}, Removed: []string{}})
		t.add(b.At.Format("2006-01-02 15:04:05Z"), megabytes(b.Bytes), b.Path)
	}
	if asJSON {
		return printJSON(w, rows)
	}
	return t.print(w, "no backup yet: limbwatch catalogue backup makes one; a file from elsewhere is named by its path")
}

func (a *app) restore(ctx context.Context, w io.Writer, backup string, dryRun, asJSON bool) error {
	path := a.cataloguePath()
	spin := newSpinner(a.stderr, "comparing")
	different, err := observe.Compare(ctx, path, backup, a.now)
	spin.clear()
	if err != nil {
		return adviseRestore(err)
	}
	row := restoreRow{Backup: backup, DryRun: dryRun, Days: []differentDayRow{}, Undoing: []operationRow{}, Missing: []string{}}
	for _, d := range different.Days {
		row.Days = append(row.Days, differentDayRow{d.Day, d.Now.Frames, d.Now.Marks, d.Then.Frames, d.Then.Marks})
	}
	for _, op := range different.Undoing {
		row.Undoing = append(row.Undoing, operationRow{op.ID, formatUTC(op.At), op.Act, op.Of, op.Title, op.Origin, op.Undone})
	}
	if !asJSON {
		if err := printDifference(w, row, different.Unreadable); err != nil {
			return err
		}
	}
	if !dryRun {
		spin := newSpinner(a.stderr, "checking and putting in place")
		done, err := observe.Restore(ctx, path, backup, a.now)
		spin.clear()
		if err != nil {
			return adviseRestore(err)
		}
		row.Aside, row.Pictures, row.Missing = done.Aside, done.Pictures, append(row.Missing, done.Missing...)
	}
	if asJSON {
		return printJSON(w, row)
	}
	return printRestored(w, a.stderr, row)
}

func printDifference(w io.Writer, row restoreRow, unreadable error) error {
	if unreadable != nil {
		fmt.Fprintf(w, "what would differ cannot be told: %v\n", unreadable)
		return nil
	}
	t := newTable("day", "now", "in the backup")
	for _, d := range row.Days {
		t.add(d.Day, counted(d.FramesNow, "frame")+", "+counted(d.MarksNow, "mark"), counted(d.FramesThen, "frame")+", "+counted(d.MarksThen, "mark"))
	}
	if err := t.print(w, "no day differs"); err != nil || len(row.Undoing) == 0 {
		return err
	}
	fmt.Fprintf(w, "\n%s later than the backup:\n", counted(len(row.Undoing), "change"))
	const shown = 10
	for i, op := range row.Undoing {
		if i == shown {
			fmt.Fprintf(w, "  and %d more\n", len(row.Undoing)-shown)
			break
		}
		fmt.Fprintf(w, "  %s  %s  %s\n", op.Operation, op.UTC, onOneLine(op.Title))
	}
	return nil
}

func printRestored(w, stderr io.Writer, row restoreRow) error {
	if row.DryRun {
		_, err := fmt.Fprintln(w, "\nnothing was changed")
		return err
	}
	fmt.Fprintf(w, "\nin place: %s\n", onOneLine(row.Backup))
	if row.Aside != "" {
		fmt.Fprintf(w, "what stood there is kept: %s\n", onOneLine(row.Aside))
	}
	if row.Pictures > 0 {
		fmt.Fprintf(w, "%s put back\n", counted(row.Pictures, "picture"))
	}
	for _, path := range row.Missing {
		fmt.Fprintf(stderr, "limbwatch: note: missing, and in no backup: %s\n", onOneLine(path))
	}
	return nil
}

func adviseRestore(err error) error {
	if _, ok := errors.AsType[*store.InUseElsewhereError](err); ok {
		return withHint(err, "end it first: the page with Ctrl-C in its terminal")
	}
	if _, ok := errors.AsType[*observe.UnsoundError](err); ok {
		return withHint(err, "choose another backup: limbwatch catalogue restore lists them")
	}
	return adviseOpen(err)
}
