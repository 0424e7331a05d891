package observe

import (
	"context"
	"time"

	"limbwatch/catalog/store"
)

// A day's backup is made anew when it is an hour old, unless that would be felt.
const (
	renewedAfter  = time.Hour
	renewedUnder  = 20 << 20 // bytes of the catalogue; above, a copy takes seconds
	dayOfAnything = "2006-01-02"
)

// DayBackup makes the day's backup when it is due: once something was marked today (UTC),
// if anything has changed since the newest one. It gives nil when it was not due. patient
// says that nobody waits for it. Errors are those of Backup.
func (k Keeper) DayBackup(ctx context.Context, folder string, patient bool) (*BackedUp, error) {
	if folder == "" {
		folder = BackupFolder(k.Store.Path())
	}
	list, err := Backups(k.Store.Path(), folder)
	if err != nil {
		return nil, err
	}
	now := k.Now().UTC()
	today := now.Format(dayOfAnything)
	if len(list) > 0 && list[0].At.Format(dayOfAnything) == today {
		age := now.Sub(list[0].At)
		if age < renewedAfter || !patient && k.Store.Bytes() > renewedUnder {
			return nil, nil
		}
	}
	marked, err := k.Store.Read(ctx).MarkedLast()
	if err != nil || marked.At.UTC().Format(dayOfAnything) != today {
		return nil, err
	}
	if len(list) > 0 && k.holdsAll(ctx, list[0]) {
		return nil, nil
	}
	done, err := k.Backup(ctx, BackupOptions{Folder: folder})
	if err != nil {
		return nil, err
	}
	return &done, nil
}

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
