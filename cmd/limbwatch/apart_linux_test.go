package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/observe"
	"limbwatch/catalog/wholefile"
)

// The day's backup of a large catalogue is made by a program of its own, by one at a time;
// what stopped it is told by the next command.
func TestTheDaysBackupOfALargeCatalogueIsMadeApart(t *testing.T) {
	usual := apartOver
	apartOver = 0
	t.Cleanup(func() { apartOver = usual })
	folder := newCatalogue(t)
	backups := filepath.Join(folder, "kept")
	t.Setenv(backupsVariable, backups)
	t.Setenv(actAsLimbwatch, "1")
	mark := func() string { // its notes
		got := limbwatch(t, "", add("sunspot", "--place", "N08E14")...)
		require.Equal(t, exitDone, got.code, got.stderr)
		return got.stderr
	}
	const begun, failed = "is being made in the background", "that was tried last was not made: the disk broke"
	made := func() int {
		found, err := filepath.Glob(filepath.Join(backups, "*.db"))
		require.NoError(t, err)
		return len(found)
	}

	require.NoError(t, os.Mkdir(backups, 0o755))
	turn, free, err := wholefile.TakeTurn(filepath.Join(backups, ".limbwatch-day.lock"))
	require.NoError(t, err)
	require.True(t, free)
	assert.NotContains(t, mark(), begun, "another is at it")
	require.NoError(t, turn.Say("the disk broke"))
	require.NoError(t, turn.Close())

	notes := mark()
	assert.Contains(t, notes, failed)
	assert.Contains(t, notes, begun)
	settled := func() bool {
		underWay, failed, err := observe.DayBackupUnderWay(backups)
		return err == nil && !underWay && failed == "" && made() == 1
	}
	require.Eventually(t, settled, 30*time.Second, 20*time.Millisecond)
	assert.NotContains(t, mark(), begun, "there is one of today")
	tried := asJSON[object](t, "catalogue", "restore", filepath.Base(asJSON[[]object](t, "catalogue", "restore")[0].text(t, "file")), "--dry-run")
	assert.Len(t, tried["changes_given_up"], 1, "the third mark")
	assert.Equal(t, 1, made())
}
