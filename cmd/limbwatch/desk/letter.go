package desk

import (
	"fmt"
	"html"
	"os"
	"path/filepath"
	"sync"

	"limbwatch/catalog/wholefile"
)

// letter is a file that leads the browser to the page. It carries the token, which
// everybody on the machine could read among a program's arguments; the file is for this
// user's eyes alone, and goes as soon as the token is spent.
type letter struct {
	mu     sync.Mutex
	folder string
	gone   bool
}

// write makes the file.
func (l *letter) write(address string) (path string, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.gone { // somebody was quicker with the printed address
		return "", fmt.Errorf("the page is open already")
	}
	if l.folder, err = os.MkdirTemp("", "limbwatch-"); err != nil { // mode 0700
		return "", err
	}
	f, err := wholefile.Begin(l.folder)
	if err != nil {
		return "", err
	}
	defer f.Discard()
	if err := f.Private(); err != nil {
		return "", err
	}
	_, err = fmt.Fprintf(f, `<!doctype html>
<html lang="en-GB"><meta charset="utf-8"><meta name="referrer" content="no-referrer">
<meta http-equiv="refresh" content="0;url=%s"><title>limbwatch</title><p>The marking page opens.</p></html>
`, html.EscapeString(address))
	if err != nil {
		return "", err
	}
	path = filepath.Join(l.folder, "limbwatch.html")
	return path, f.KeepAs(path)
}

// remove takes the file away.
func (l *letter) remove() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.gone = true
	if l.folder != "" {
		os.RemoveAll(l.folder)
	}
}
