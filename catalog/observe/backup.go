package observe

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/catalog/wholefile"
)

// Backup is a whole copy of a catalogue as it stood at an instant.
type Backup struct {
	Path  string
	At    time.Time
	Bytes int64
}

// BackupOptions is where backups go and how many stay.
//
//	Folder  "" for the usual one, BackupFolder
//	Keep    how many of the newest stay; 0: those of 7 days, 5 weeks and 12 months
type BackupOptions struct {
	Folder string
	Keep   int
}

// BackedUp is what a backup did.
//
//	Pictures  how many pictures were put to those that it had
//	Removed   older backups that made room
//	Lacking   pictures of the catalogue's own folder that are missing or changed there
//	SameDisk  it lies on the disk on which the catalogue lies
type BackedUp struct {
	Backup
	Pictures int
	Removed  []Backup
	Lacking  []string
	SameDisk bool
}

// UnsoundError refuses to keep a backup that is not whole: then the catalogue is not
// either, or the disk. What was kept before stays.
type UnsoundError struct{ Faults []store.Fault }

func (e *UnsoundError) Error() string {
	return fmt.Sprintf("the copy is not sound (%s: %s), and was not kept", e.Faults[0].Thing, e.Faults[0].Says)
}

// NoRoomError refuses a backup for which a disk has too little room.
type NoRoomError struct {
	Folder     string
	Need, Free int64 // bytes
}

func (e *NoRoomError) Error() string {
	return fmt.Sprintf("%s: %d MB are free, a backup wants %d MB", e.Folder, e.Free>>20, e.Need>>20+1)
}

// BackupFolder is where the backups of a catalogue lie unless one says otherwise.
func BackupFolder(catalogue string) string { return catalogue + ".backups" }

const backupStamp = "2006-01-02T150405Z"

var backupName = regexp.MustCompile(`^(.*)-(\d{4}-\d\d-\d\dT\d{6}Z)\.db$`)

// stemOf is what the names of a catalogue's backups begin with.
func stemOf(catalogue string) string {
	base := filepath.Base(catalogue)
	return strings.TrimSuffix(base, filepath.Ext(base))
}

// Backups lists the backups of a catalogue in a folder, newest first; none where there is
// no such folder.
func Backups(catalogue, folder string) (list []Backup, err error) {
	entries, err := os.ReadDir(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, entry := range entries {
		m := backupName.FindStringSubmatch(entry.Name())
		if m == nil || m[1] != stemOf(catalogue) {
			continue
		}
		at, e := time.Parse(backupStamp, m[2])
		info, e2 := entry.Info()
		if e != nil || e2 != nil || !info.Mode().IsRegular() {
			continue
		}
		list = append(list, Backup{filepath.Join(folder, entry.Name()), at, info.Size()})
	}
	slices.SortFunc(list, func(a, b Backup) int { return b.At.Compare(a.At) })
	return list, err
}

// Backup copies the catalogue while others work on it, looks through all of the copy, keeps
// it, and lets older ones go. Errors: *UnsoundError, *NoRoomError.
func (k Keeper) Backup(ctx context.Context, o BackupOptions) (BackedUp, error) {
	path := k.Store.Path()
	if o.Folder == "" {
		o.Folder = BackupFolder(path)
	}
	var done BackedUp
	if err := wholefile.Folder(o.Folder); err != nil {
		return done, err
	}
	if _, err := wholefile.Sweep(o.Folder); err != nil {
		return done, err
	}
	need := k.Store.Bytes()
	if free, known := freeBytes(o.Folder); known && free < need+need/4 {
		return done, &NoRoomError{o.Folder, need + need/4, free}
	}
	at := k.Now().UTC().Truncate(time.Second)
	if err := k.writeBackup(ctx, o.Folder, at, &done); err != nil {
		return done, err
	}
	if err := k.backUpPictures(ctx, o.Folder, &done); err != nil {
		return done, err
	}
	done.SameDisk = sameDisk(path, o.Folder)
	return done, k.prune(ctx, o, &done)
}

func (k Keeper) writeBackup(ctx context.Context, folder string, at time.Time, done *BackedUp) error {
	path := k.Store.Path()
	target := filepath.Join(folder, stemOf(path)+"-"+at.Format(backupStamp)+".db")
	file, err := wholefile.New(target)
	if err != nil {
		return err
	}
	defer file.Discard()
	if err := k.Store.Snapshot(ctx, file.Name()); err != nil {
		return fmt.Errorf("%s: %w", target, err)
	}
	faults, err := checkFile(ctx, file.Name(), true)
	if err != nil {
		return fmt.Errorf("%s: %w", target, err)
	}
	if len(faults) > 0 {
		return &UnsoundError{faults}
	}
	if err := file.Like(path); err != nil {
		return err
	}
	if err := file.Keep(); err != nil {
		return err
	}
	info, err := os.Stat(target)
	if err != nil {
		return err
	}
	done.Backup = Backup{target, at, info.Size()}
	return nil
}

// checkFile looks through all of a file that nobody writes to.
func checkFile(ctx context.Context, path string, comparePositions bool) ([]store.Fault, error) {
	s, err := store.OpenSnapshot(ctx, path, Derive)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	version, err := s.DeriveVersion(ctx)
	if err != nil {
		return nil, err
	}
	return s.Check(ctx, comparePositions && version == deriveVersion, nil)
}

// ownPictures is the folder of the pictures that came in through the page: nobody may have
// them elsewhere.
func ownPictures(catalogue string) string { return filepath.Join(filepath.Dir(catalogue), "pictures") }

// pictureCopy is where a backup folder has a frame's picture: under its content, so that
// each is there once.
func pictureCopy(folder string, f catalog.Frame) string {
	return filepath.Join(folder, "pictures", f.SHA256+strings.ToLower(filepath.Ext(f.Path)))
}

// backUpPictures puts the pictures of the catalogue's own folder to the backups, each once.
func (k Keeper) backUpPictures(ctx context.Context, folder string, done *BackedUp) error {
	frames, err := k.Store.Read(ctx).FramesWithFiles(true)
	if err != nil {
		return err
	}
	own := ownPictures(k.Store.Path())
	for _, f := range frames {
		to := pictureCopy(folder, f)
		if filepath.Dir(f.Path) != own || isThere(to) {
			continue
		}
		if says := pictureFault(ctx, f); says != "" {
			if ctx.Err() == nil {
				done.Lacking = append(done.Lacking, f.Path)
				continue
			}
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := linkOrCopy(ctx, f.Path, to); err != nil {
			return err
		}
		done.Pictures++
	}
	return nil
}

func isThere(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// prune lets older backups go, but never for the sake of one that is not whole.
func (k Keeper) prune(ctx context.Context, o BackupOptions, done *BackedUp) error {
	list, err := Backups(k.Store.Path(), o.Folder)
	if err != nil {
		return err
	}
	whole := func(b Backup) bool {
		if b.Path == done.Path {
			return true // it was just looked through
		}
		faults, err := checkFile(ctx, b.Path, false)
		_, older := errors.AsType[*store.OlderError](err)
		return older || err == nil && len(faults) == 0
	}
	gone := superfluous(list, o.Keep, whole)
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, b := range gone {
		if err := os.Remove(b.Path); err != nil {
			return err
		}
		done.Removed = append(done.Removed, b)
	}
	return nil
}
