package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"unicode/utf8"

	"golang.org/x/term"

	"limbwatch/catalog"
)

// shown is where a command prints for people. Names, paths, headers and records may come
// from anybody: what could steer a terminal, or turn the order of what is read on it, is
// shown as � instead. Every command prints through it; only tables and records for other
// programs go past it, and not to a terminal (see app.data).
type shown struct {
	to   io.Writer
	rest []byte // of a character that is not whole yet
}

func (s *shown) Write(p []byte) (int, error) {
	text := append(s.rest, p...)
	s.rest = nil
	clean := make([]byte, 0, len(text))
	for len(text) > 0 {
		r, size := utf8.DecodeRune(text)
		if r == utf8.RuneError && size == 1 && !utf8.FullRune(text) {
			s.rest = bytes.Clone(text)
			break
		}
		if r != '\n' && r != '\t' && catalog.Steers(r) {
			r = utf8.RuneError
		}
		clean = utf8.AppendRune(clean, r)
		text = text[size:]
	}
	if _, err := s.to.Write(clean); err != nil {
		return 0, err
	}
	return len(p), nil
}

// data is where tables and records for other programs go: to the last byte as they are,
// unless a person watches.
func (a *app) data() io.Writer {
	if s, ok := a.stdout.(*shown); ok && !isTerminal(s.to) {
		return s.to
	}
	return a.stdout
}

func isTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}

// escapedJSON writes what would steer a terminal as JSON can: it is read back as it was.
func escapedJSON(text []byte) []byte {
	var out []byte
	for len(text) > 0 {
		r, size := utf8.DecodeRune(text)
		if r != '\n' && catalog.Steers(r) {
			out = fmt.Appendf(out, `\u%04x`, r) // all of them lie below U+FFFF
		} else {
			out = append(out, text[:size]...)
		}
		text = text[size:]
	}
	return out
}
