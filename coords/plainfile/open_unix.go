//go:build unix

package plainfile

import (
	"os"
	"syscall"
)

// openWithoutWaiting does not wait for somebody to write, if it is a pipe after all.
func openWithoutWaiting(path string) (*os.File, error) {
	return os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK, 0)
}
