package store

import (
	"context"
	"errors"
	"os"
)

// Withdraw ends the use of a catalogue that was made for nothing, and removes it: a command
// that failed leaves none behind. One in which something was kept stays, by whatever
// program, and so does one that another program has open.
func (s *Store) Withdraw(ctx context.Context) (gone bool, err error) {
	if err := s.Close(); err != nil {
		return false, err
	}
	err = underLock(ctx, s.path, func() error {
		if err := endLog(ctx, s.path); err != nil {
			return err
		}
		db := connect(s.path, "_busy_timeout=1000&_txlock=exclusive", 1, nil)
		defer db.Close()
		alone, err := db.BeginTx(ctx, nil)
		if err != nil {
			return asBusy(err)
		}
		defer alone.Rollback()
		var operations int
		if err := alone.QueryRowContext(ctx, "SELECT count(*) FROM operations").Scan(&operations); err != nil || operations > 0 {
			return asBusy(err)
		}
		if os.Remove(s.path) != nil { // as on Windows, where somebody has it open: this function
			return nil
		}
		gone = true
		_, _ = os.Remove(ownerPath(s.path)), os.Remove(s.path+".lock") // of nothing, if they stay
		return nil
	})
	_, inUse := errors.AsType[*InUseElsewhereError](err)
	_, busy := errors.AsType[*BusyError](err)
	if inUse || busy {
		return false, nil
	}
	return gone, err
}
