package desk

import (
	"fmt"
	"os/exec"
	"runtime"
)

// openBrowser shows a file in the browser that the system prefers. It does
// not wait for the browser to end.
func openBrowser(path string) error {
	var name string
	var args []string
	switch runtime.GOOS {
	case "darwin":
		name, args = "open", []string{path}
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", path}
	default:
		name, args = "xdg-open", []string{path}
	}
	cmd := exec.Command(name, args...)
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	go cmd.Wait() // so that no finished process is left behind
	return nil
}
