//go:build !unix

package plainfile

import "os"

func openWithoutWaiting(path string) (*os.File, error) { return os.Open(path) }
