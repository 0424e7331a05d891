package observe

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"limbwatch/catalog/store"
	"limbwatch/catalog/wholefile"
)

// A day's backup is made anew when it is an hour old, unless that would be felt.
const (
	renewedAfter  = time.Hour
	renewedUnder  = 20 << 20 // bytes of the catalogue; above, a copy takes seconds
	dayOfAnything = "2006-01-02"
)

// DayBackupDue says whether the day's backup is to be made: something was marked today
// (UTC), and has changed since the newest one. patient says that nobody waits for it.
func (k Keeper) DayBackupDue(ctx context.Context, folder string, patient bool) (bool, error) {
	list, err := Backups(k.Store.Path(), folder)
	if err != nil {
		return false, err
	}
	now := k.Now().UTC()
	today := now.Format(dayOfAnything)
	if len(list) > 0 && list[0].At.Format(dayOfAnything) == today {
		age := now.Sub(list[0].At)
		if age < renewedAfter || !patient && k.Store.Bytes() > renewedUnder {
			return false, nil
		}
	}
	marked, err := k.Store.Read(ctx).MarkedLast()
	if err != nil || marked.At.UTC().Format(dayOfAnything) != today {
		return false, err
	}
	return len(list) == 0 || !k.holdsAll(ctx, list[0]), nil
}

// DayBackup makes the day's backup when it is due. It gives nil when it was not, or when
// another program is making it. Errors are those of Backup.
func (k Keeper) DayBackup(ctx context.Context, folder string, patient bool) (*BackedUp, error) {
	if folder == "" {
		folder = BackupFolder(k.Store.Path())
	}
	if due, err := k.DayBackupDue(ctx, folder, patient); err != nil || !due {
		return nil, err
	}
	if err := wholefile.Folder(folder); err != nil {
		return nil, err
	}
	turn, free, err := wholefile.TakeTurn(dayTurn(folder))
	if err != nil || !free {
		return nil, err
	}
	defer turn.Close()
	if due, err := k.DayBackupDue(ctx, folder, patient); err != nil || !due {
		return nil, err // it was made just before
	}
	done, err := k.Backup(ctx, BackupOptions{Folder: folder})
	said := ""
	if err != nil {
		said = err.Error()
	}
	if e := turn.Say(said); err == nil {
		err = e
	}
	if err != nil {
		return nil, err
	}
	return &done, nil
}

// DayBackupUnderWay says whether some program is making the day's backup just now, and why
// the last one that was tried failed; "" when it did not.
func DayBackupUnderWay(folder string) (underWay bool, failed string, err error) {
	if _, err := os.Lstat(dayTurn(folder)); errors.Is(err, fs.ErrNotExist) {
		return false, "", nil
	}
	turn, free, err := wholefile.TakeTurn(dayTurn(folder))
	if err != nil || !free {
		return !free && err == nil, "", err
	}
	defer turn.Close()
	failed, err = turn.Said()
	return false, failed, err
}

// dayTurn is the file whose lock whoever makes the day's backup holds.
func dayTurn(folder string) string { return filepath.Join(folder, ".limbwatch-day.lock") }

// holdsAll says whether a backup has the newest change.
func (k Keeper) holdsAll(ctx context.Context, b Backup) bool {
	then, err := store.OpenSnapshot(ctx, b.Path, Derive)
	if err != nil {
		return false
	}
	defer then.Close()
	had, err := then.Read(ctx).History("", 1)
	if err != nil || len(had) == 0 {
		return false
	}
	has, err := k.Store.Read(ctx).History("", 1)
	return err == nil && len(has) > 0 && has[0].UUID == had[0].UUID
}
