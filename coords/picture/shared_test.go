package picture

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// shared is a file of the shared data, which is not part of the repository.
func shared(t *testing.T, path string) string {
	t.Helper()
	folder := os.Getenv("LIMBWATCH_SHARED")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared")
	}
	if _, err := os.Stat(folder); err != nil {
		t.Skipf("SKIPPED: no shared data at %s: set LIMBWATCH_SHARED", folder)
	}
	file := filepath.Join(folder, "data", filepath.FromSlash(path))
	require.FileExists(t, file)
	return file
}

// images is a file of testdata/images.
func images(name string) string { return filepath.Join("..", "..", "testdata", "images", name) }
