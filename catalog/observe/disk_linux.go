package observe

import (
	"os"
	"syscall"
)

// freeBytes is how much room a folder's disk has for this user.
func freeBytes(folder string) (free int64, known bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil {
		return 0, false
	}
	return int64(s.Bavail) * s.Bsize, true
}

// sameDisk says whether two paths lie on one disk, as far as the system tells.
func sameDisk(a, b string) bool {
	one, errA := os.Stat(a)
	two, errB := os.Stat(b)
	if errA != nil || errB != nil {
		return false
	}
	statA, okA := one.Sys().(*syscall.Stat_t)
	statB, okB := two.Sys().(*syscall.Stat_t)
	return okA && okB && statA.Dev == statB.Dev
}
