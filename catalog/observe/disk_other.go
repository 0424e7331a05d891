//go:build !linux

package observe

import "path/filepath"

// freeBytes would be how much room a folder's disk has; elsewhere a backup that finds none
// fails, and leaves nothing.
func freeBytes(string) (free int64, known bool) { return 0, false }

// sameDisk compares the letters of drives.
func sameDisk(a, b string) bool { return filepath.VolumeName(a) == filepath.VolumeName(b) }
