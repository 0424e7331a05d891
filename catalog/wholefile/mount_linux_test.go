package wholefile

import (
	"fmt"
	"syscall"
)

func mountSmall(folder string, bytes int) error {
	return syscall.Mount("tmpfs", folder, "tmpfs", 0, fmt.Sprintf("size=%d", bytes))
}

func unmount(folder string) error { return syscall.Unmount(folder, 0) }
