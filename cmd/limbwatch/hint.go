package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"limbwatch/catalog/wholefile"
)

// The exit codes that every command keeps to.
const (
	exitDone    = 0
	exitFailed  = 1
	exitMisused = 2
)

// hintError adds advice to an error. The error says what is wrong, the hint
// what to do: only the command knows its flags.
type hintError struct {
	error
	hint string
}

func (e *hintError) Unwrap() error { return e.error }

// withHint adds a line of advice, printed below the error.
func withHint(err error, format string, args ...any) error {
	return &hintError{err, fmt.Sprintf(format, args...)}
}

// hints lists the advice in an error, outermost first.
func hints(err error) []string {
	var list []string
	for err != nil {
		var h *hintError
		if !errors.As(err, &h) {
			break
		}
		list = append(list, h.hint)
		err = h.error
	}
	return list
}

// stoppedError is a command that was ended in the middle, as by Ctrl-C. What it had not
// finished, a change of the catalogue among that, is as if it had not been begun.
type stoppedError struct {
	error
	kept string
}

func (e *stoppedError) Error() string { return "stopped before it was done" + e.kept }
func (e *stoppedError) Unwrap() error { return e.error }

// stopped says so of what only tells that it was called off.
func (a *app) stopped(err error) error {
	if a.opened == nil {
		return &stoppedError{err, ""}
	}
	return &stoppedError{err, ": nothing of it was kept"}
}

// complain prints an error and, below it, its advice.
func complain(stderr io.Writer, err error) {
	if len(hints(err)) == 0 && wholefile.NoRoom(err) { // whichever file it was that a command wrote
		err = withHint(err, "make room on that disk, or name a place on another; what stood there is as it was")
	}
	fmt.Fprintf(stderr, "limbwatch: %v\n", err)
	for _, hint := range hints(err) {
		fmt.Fprintf(stderr, "limbwatch: hint: %s\n", hint)
	}
}

// misuseError marks an error of the one who typed, found only while running:
// flags that contradict one another, a value that does not parse.
type misuseError struct{ error }

func (e *misuseError) Unwrap() error { return e.error }

func misuse(format string, args ...any) error {
	return &misuseError{fmt.Errorf(format, args...)}
}

// typed checks a thing whose particulars were typed: what cannot be is misuse.
func typed(thing interface{ Validate() error }) error {
	if err := thing.Validate(); err != nil {
		return &misuseError{err}
	}
	return nil
}

// silentError ends a command with a code after it has said everything itself,
// as a refusal printed as JSON has.
type silentError struct{ error }

func (e *silentError) Unwrap() error { return e.error }

func isSilent(err error) bool {
	var s *silentError
	return errors.As(err, &s)
}

// exitCode is 2 for what was typed wrongly (anything before the command began,
// or marked so) and 1 for what went wrong.
func exitCode(err error, started bool) int {
	var m *misuseError
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &m):
		return exitMisused
	case errors.Is(err, context.Canceled):
		return exitFailed
	case !started:
		return exitMisused
	}
	return exitFailed
}
