//go:build unix

package plainfile

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPipesAndDevicesAreRefusedAtOnce(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	begun := time.Now()
	_, err := Open(pipe)
	require.EqualError(t, err, pipe+" is a pipe, no file")
	_, err = Open(os.DevNull)
	require.EqualError(t, err, os.DevNull+" is a device, no file")
	file, err := openWithoutWaiting(pipe)
	require.NoError(t, err, "should one take the name of a file just then, opening does not wait either")
	file.Close()
	assert.Less(t, time.Since(begun), 5*time.Second)
}
