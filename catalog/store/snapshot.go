package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"limbwatch/catalog"
	"limbwatch/migrations"
)

// Snapshot writes all of the catalogue, as it stands now, into the empty or missing file
// at path, while others go on changing it. Errors may leave a part of it there.
func (s *Store) Snapshot(ctx context.Context, path string) error {
	db := connect(s.path, "", 1, s.file.inPlace)
	defer db.Close()
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", path); err != nil {
		return asBusy(err)
	}
	return nil
}

// Bytes is how much disk the catalogue takes, its log counted in.
func (s *Store) Bytes() int64 {
	info, err := os.Stat(s.path)
	if err != nil {
		return 0
	}
	return info.Size() + logBytes(s.path)
}

// OpenSnapshot opens a file that nobody writes to, for reading only: a snapshot, or a
// catalogue where nothing may be written. Nothing is made beside it. Errors are those of
// Open; one of an older schema is refused with an *OlderError.
func OpenSnapshot(ctx context.Context, path string, derive Deriver) (*Store, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path, derive: derive}
	if s.file, err = openFile(path); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if err := s.openStill(ctx); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return s, nil
}

// openStill opens the file for reading only, and makes nothing beside it. Where there is a
// log, somebody may be writing to it, and SQLite has to read it too; without one it is told
// that nothing changes, for else it would have to make one.
func (s *Store) openStill(ctx context.Context) (err error) {
	option := "mode=ro&_query_only=true"
	if s.logged = s.file.logInUse(); !s.logged {
		option += "&immutable=1"
	}
	s.read = connect(s.path, option, 4, nil)
	s.still = true
	defer func() {
		if err != nil {
			err = errors.Join(err, s.read.Close(), s.file.release())
		}
	}()
	if err := s.file.ownLog(); err != nil {
		return err
	}
	if err := s.file.whole(); err != nil {
		return err
	}
	if err := s.file.logFits(ctx); err != nil {
		return err
	}
	have, err := schemaOfOpen(ctx, s.read)
	if err != nil {
		return err
	}
	newest, err := newestSchema(migrations.FS)
	switch {
	case err != nil:
		return err
	case have > newest:
		return &NewerError{Have: have, Know: newest}
	case have < newest:
		return &OlderError{Have: have, Know: newest}
	}
	return nil
}

// stoodStill refuses what was read of a file that was taken for unchanging, and in which
// somebody wrote meanwhile: it may be a mixture.
func (s *Store) stoodStill() error {
	info, err := s.file.handle.Stat()
	if err != nil {
		return err
	}
	if !s.logged && (s.file.logInUse() || info.Size() != s.file.info.Size() || !info.ModTime().Equal(s.file.info.ModTime())) {
		return &ReplacedError{Path: s.path}
	}
	return nil
}

// DeriveVersion is the way of deriving that the kept positions were derived in.
func (s *Store) DeriveVersion(ctx context.Context) (version int64, err error) {
	err = s.read.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version)
	return version, asBusy(err)
}

// MarkedLast is when the newest mark was added, or last changed; zero time for none.
func (v *View) MarkedLast() (op catalog.Operation, err error) {
	line := v.q.QueryRowContext(v.ctx, "SELECT "+operationColumns+" FROM operations o WHERE o.id = coalesce((SELECT operation_id FROM marks ORDER BY id DESC LIMIT 1), 0)")
	op, err = scanOperation(line.Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return catalog.Operation{}, nil
	}
	return op, asBusy(err)
}

// FramesWithFiles lists the frames that have a picture, those out of sight too where all
// is set: taking back brings them back.
func (v *View) FramesWithFiles(all bool) (list []catalog.Frame, err error) {
	query := "SELECT " + frames.selection("t") + " FROM frames t WHERE t.sha256 IS NOT NULL"
	if !all {
		query += " AND t.removed = 0"
	}
	err = v.each(query+" ORDER BY t.id", nil, func(scan scanner) error {
		f, err := frames.scan(scan)
		list = append(list, f)
		return err
	})
	return list, err
}

// DayCount is how much a catalogue holds of a UT day, as text 2006-01-02.
type DayCount struct {
	Day           string
	Frames, Marks int
	Changes       int64 // sum of the revisions of both: edited rows count too
}

// Days counts what is in sight, by UT day.
func (v *View) Days() (days []DayCount, err error) {
	err = v.each(`
SELECT f.day, sum(f.frames), sum(f.marks), sum(f.changes) FROM (
	SELECT substr(t.middle_utc, 1, 10) AS day, 1 AS frames, count(m.id) AS marks, t.revision + coalesce(sum(m.revision), 0) AS changes
	FROM frames t LEFT JOIN marks m ON m.frame_id = t.id AND m.removed = 0
	WHERE t.removed = 0 GROUP BY t.id) f
GROUP BY f.day ORDER BY f.day`, nil, func(scan scanner) error {
		var d DayCount
		err := scan(&d.Day, &d.Frames, &d.Marks, &d.Changes)
		days = append(days, d)
		return err
	})
	return days, err
}
