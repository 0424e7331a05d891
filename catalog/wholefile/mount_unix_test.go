//go:build unix && !linux

package wholefile

import "errors"

func mountSmall(string, int) error { return errors.ErrUnsupported }
func unmount(string) error         { return nil }
