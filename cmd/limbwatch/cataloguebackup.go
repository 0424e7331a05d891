package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
)

// backupsVariable names the environment variable that says where backups go by themselves:
// a folder, or noBackups.
const backupsVariable, noBackups = "LIMBWATCH_BACKUPS", "none"

// ofTheDayFlag is what this program says to itself.
const ofTheDayFlag = "of-the-day"

func newCatalogueCommand(app *app) *cobra.Command {
	cmd := group("catalogue", "Back the catalogue up, check it, put a backup in its place",
		`The catalogue is one file that years of work go into. Once a day, after something
was marked, limbwatch copies it by itself into a folder beside it; these commands
copy it when and where you say, look through all of it, and put a copy in its place.`,
		newBackupCommand(app), newCheckCommand(app), newRestoreCommand(app))
	return cmd
}

// backupFolder is where backups lie unless a command says otherwise.
func (a *app) backupFolder() string {
	if folder := a.getenv(backupsVariable); folder != "" && folder != noBackups {
		return folder
	}
	return observe.BackupFolder(a.cataloguePath())
}

// backupRow is a backup as JSON names it.
type backupRow struct {
	File    string   `json:"file"`
	UTC     string   `json:"utc"`
	Bytes   int64    `json:"bytes"`
	Added   int      `json:"pictures_added"`
	Lacking []string `json:"pictures_lacking"`
	Removed []string `json:"removed"`
}

func newBackupCommand(app *app) *cobra.Command {
	var keep int
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "backup [FOLDER]",
		Short: "Copy the catalogue, whole and checked, while others work on it",
		Long: `Backup copies the catalogue as it stands, looks through all of the copy, and keeps
it under the day's date and time; pictures that came in through the page go with it,
each once. Without FOLDER it goes into the folder of the day's own backups, beside the
catalogue; name one on another drive now and then, for a drive dies as a whole.

Of older backups in the folder those of the last 7 days, 5 weeks and 12 months that
have one stay, or the newest with --keep. None goes for the sake of one that is not
whole.

LIMBWATCH_BACKUPS names another folder for the day's own backups; with the word none
there are none. On Linux that of a large catalogue is made in the background, after the
command that it comes with has ended.`,
		Example: "  limbwatch catalogue backup\n  limbwatch catalogue backup /media/stick/sun --keep 3",
		Args:    cobra.MaximumNArgs(1),
		RunE: withKeeper(app, func(ctx context.Context, k observe.Keeper, cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("keep") && keep < 1 {
				return misuse("--keep %d: want 1 or more", keep)
			}
			folder := app.backupFolder()
			if len(args) > 0 {
				folder = args[0]
			}
			if app.ofTheDay {
				_, err := k.DayBackup(ctx, folder, true)
				return err
			}
			spin := newSpinner(app.stderr, "copying and checking")
			done, err := k.Backup(ctx, observe.BackupOptions{Folder: folder, Keep: keep})
			spin.clear()
			if err != nil {
				return adviseBackup(err)
			}
			return printBackedUp(cmd.OutOrStdout(), app.stderr, done, asJSON)
		}),
	}
	cmd.Flags().BoolVar(&app.ofTheDay, ofTheDayFlag, false, "only when the day's backup is due, as a command of a large catalogue starts it")
	if err := cmd.Flags().MarkHidden(ofTheDayFlag); err != nil {
		panic(err) // the flag is defined above
	}
	cmd.Flags().IntVar(&keep, "keep", 0, "how `many` of the newest stay (default: those of 7 days, 5 weeks and 12 months)")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printBackedUp(w, stderr io.Writer, done observe.BackedUp, asJSON bool) error {
	if asJSON {
		row := backupRow{done.Path, formatUTC(done.At), done.Bytes, done.Pictures, append([]string{}, done.Lacking...), []string{}}
		for _, b := range done.Removed {
			row.Removed = append(row.Removed, b.Path)
		}
		return printJSON(w, row)
	}
	fmt.Fprintf(w, "%s  %s, whole and checked\n", onOneLine(done.Path), megabytes(done.Bytes))
	if done.Pictures > 0 {
		fmt.Fprintf(w, "with %s that it did not have yet\n", counted(done.Pictures, "picture"))
	}
	if n := len(done.Removed); n > 0 {
		fmt.Fprintf(w, "%s made room\n", counted(n, "older backup"))
	}
	for _, path := range done.Lacking {
		fmt.Fprintf(stderr, "limbwatch: note: not in it, for it is missing or was changed: %s\n", onOneLine(path))
	}
	if done.SameDisk {
		fmt.Fprintln(stderr, "limbwatch: note: it lies on the catalogue's own drive; name a folder on another one now and then")
	}
	return nil
}

func megabytes(bytes int64) string { return fmt.Sprintf("%.1f MB", float64(bytes)/1e6) }

func adviseBackup(err error) error {
	if _, ok := errors.AsType[*observe.UnsoundError](err); ok {
		return withHint(err, "limbwatch catalogue check tells more; limbwatch catalogue restore shows the backups from before")
	}
	if _, ok := errors.AsType[*observe.NoRoomError](err); ok {
		return withHint(err, "name a folder on another drive")
	}
	return adviseStore(err)
}

// apartOver is the size in bytes of a catalogue whose backup takes longer than somebody at a
// terminal may be kept waiting.
var apartOver int64 = 20 << 20

// backUpDay makes the day's backup when it is due, after a command has changed something;
// that of a large catalogue apart, while the command ends. It is no part of what the
// command was to do: where it fails, a note says so.
func (a *app) backUpDay(ctx context.Context) {
	if a.opened == nil || a.scratchFolder != "" || a.ofTheDay || !a.opened.Store.Changed() || a.getenv(backupsVariable) == noBackups {
		return
	}
	var err error
	if canStartApart && a.opened.Store.Bytes() > apartOver {
		err = a.backUpDayApart(ctx)
	} else {
		_, err = a.opened.DayBackup(ctx, a.backupFolder(), false)
	}
	if err != nil {
		fmt.Fprintf(a.stderr, "limbwatch: note: the day's backup was not made: %v\n", err)
	}
}

func (a *app) backUpDayApart(ctx context.Context) error {
	folder, err := filepath.Abs(a.backupFolder())
	if err != nil {
		return err
	}
	underWay, failed, err := observe.DayBackupUnderWay(folder)
	if err != nil || underWay {
		return err
	}
	if due, err := a.opened.DayBackupDue(ctx, folder, true); err != nil || !due {
		return err
	}
	if failed != "" {
		fmt.Fprintf(a.stderr, "limbwatch: note: the day's backup that was tried last was not made: %s\n", onOneLine(failed))
	}
	if err := startApart("catalogue", "backup", folder, "--"+ofTheDayFlag, "--catalogue", a.opened.Store.Path()); err != nil {
		return err
	}
	_, err = fmt.Fprintln(a.stderr, "limbwatch: note: the day's backup is being made in the background")
	return err
}

// dayBackupOf makes the day's backup of a page, in the background; nil where none is wanted.
func (a *app) dayBackupOf(k observe.Keeper) func(context.Context) error {
	if a.getenv(backupsVariable) == noBackups {
		return nil
	}
	return func(ctx context.Context) error {
		_, err := k.DayBackup(ctx, a.backupFolder(), true)
		return err
	}
}

// faultRow is something wrong with the catalogue as JSON names it.
type faultRow struct {
	Thing string `json:"thing"`
	Says  string `json:"says"`
}

type checkRow struct {
	Sound    bool       `json:"sound"`
	Frames   int        `json:"frames"`
	Marks    int        `json:"marks"`
	Pictures int        `json:"pictures_read"`
	Faults   []faultRow `json:"faults"`
	Notes    []string   `json:"notes"`
}

func newCheckCommand(app *app) *cobra.Command {
	var pictures, asJSON bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Look through all of the catalogue for what is not right",
		Long: `Check reads the whole catalogue: whether the file holds together, whether everything
that is named is there, and whether positions are what comes out when they are
computed anew. With --pictures it also reads every picture and tells which are missing
or were changed. It changes nothing. Exit code 1 with a list when something is wrong.`,
		Example: "  limbwatch catalogue check\n  limbwatch catalogue check --pictures",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx := cmd.Context()
			var checked observe.Checked
			k, err := app.keeper(ctx)
			if damaged, ok := errors.AsType[*store.DamagedError](err); ok {
				checked.Faults = []store.Fault{{Thing: "file", Says: damaged.Error()}}
			} else if err != nil {
				return err
			} else {
				spin := newSpinner(app.stderr, "looking through it")
				o := observe.CheckOptions{Pictures: pictures, Step: func(_ string, done, _ int) { spin.at(done) }}
				checked, err = k.Check(ctx, o)
				spin.clear()
				if err != nil {
					return adviseStore(err)
				}
			}
			if err := printChecked(cmd.OutOrStdout(), checked, asJSON); err != nil || len(checked.Faults) == 0 {
				return err
			}
			err = fmt.Errorf("%s in the catalogue", counted(len(checked.Faults), "fault"))
			return withHint(err, "keep the file as it is; limbwatch catalogue restore shows the backups that there are")
		},
	}
	cmd.Flags().BoolVar(&pictures, "pictures", false, "read every picture, too")
	addJSONFlag(cmd, &asJSON)
	return cmd
}

func printChecked(w io.Writer, c observe.Checked, asJSON bool) error {
	if asJSON {
		row := checkRow{len(c.Faults) == 0, c.Frames, c.Marks, c.Pictures, []faultRow{}, append([]string{}, c.Notes...)}
		for _, f := range c.Faults {
			row.Faults = append(row.Faults, faultRow{f.Thing, f.Says})
		}
		return printJSON(w, row)
	}
	for _, note := range c.Notes {
		fmt.Fprintln(w, note)
	}
	if len(c.Faults) > 0 {
		t := newTable("", "what is wrong")
		for _, f := range c.Faults {
			t.add(f.Thing, f.Says)
		}
		return t.print(w, "")
	}
	fmt.Fprintf(w, "sound: %s, %s", counted(c.Frames, "frame"), counted(c.Marks, "mark"))
	if c.Pictures > 0 {
		fmt.Fprintf(w, ", %s", counted(c.Pictures, "picture"))
	}
	_, err := fmt.Fprintln(w)
	return err
}

// namedBackup finds the file that somebody means by a backup: a path, or the name or the
// beginning of the date and time of one in the folder.
func (a *app) namedBackup(name string, list []observe.Backup) (string, error) {
	if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() {
		return name, nil
	}
	for _, b := range list { // newest first
		if filepath.Base(b.Path) == name || len(name) >= len("2006-01-02") && len(formatUTC(b.At)) >= len(name) && formatUTC(b.At)[:len(name)] == name {
			return b.Path, nil
		}
	}
	return "", withHint(fmt.Errorf("no backup %q", name), "limbwatch catalogue restore lists what there is")
}
