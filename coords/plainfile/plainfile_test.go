package plainfile

import (
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPlainFilesAreRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "points.csv")
	require.NoError(t, os.WriteFile(path, []byte("x,y\n"), 0o600))
	data, err := Read(path, 4)
	require.NoError(t, err)
	assert.Equal(t, "x,y\n", string(data))
	link := path + ".link"
	require.NoError(t, os.Symlink(path, link))
	_, err = Read(link, 4)
	require.NoError(t, err, "a link to one is one")
	_, err = Read(path, 3)
	var long *TooLongError
	require.ErrorAs(t, err, &long)
	_, err = Open(path + ".none")
	require.ErrorIs(t, err, fs.ErrNotExist)
}

func TestFoldersAndSocketsAreRefused(t *testing.T) {
	folder, err := os.MkdirTemp("", "p") // short, since a socket's name may have 108 bytes (unix(7))
	require.NoError(t, err)
	defer os.RemoveAll(folder)
	socket := filepath.Join(folder, "s")
	listener, err := net.Listen("unix", socket)
	require.NoError(t, err)
	defer listener.Close()
	for path, what := range map[string]string{folder: "a folder", socket: "a socket"} {
		_, err := Open(path)
		require.EqualError(t, err, path+" is "+what+", no file")
	}
}
