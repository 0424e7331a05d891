package main

import (
	"io"

	"github.com/schollz/progressbar/v3"
)

// bar shows how far long work has got, where somebody watches: on a terminal.
type bar struct {
	*progressbar.ProgressBar
	spins bool // by itself, until it is ended
}

// newBar counts a known number of things; one alone is not worth a bar.
func newBar(stderr io.Writer, total int, what string) bar {
	if total < 2 {
		return bar{}
	}
	return watchedBar(stderr, total, what)
}

// newSpinner counts things whose number is not known, and shows at once that it began:
// the first of them may take long.
func newSpinner(stderr io.Writer, what string) bar {
	b := watchedBar(stderr, -1, what)
	if b.ProgressBar != nil {
		_ = b.RenderBlank()
	}
	return b
}

func watchedBar(stderr io.Writer, total int, what string) bar {
	if s, ok := stderr.(*shown); ok {
		stderr = s.to // a bar steers the terminal, and holds no text of others
	}
	if !isTerminal(stderr) {
		return bar{}
	}
	return bar{progressbar.NewOptions(total, progressbar.OptionSetWriter(stderr),
		progressbar.OptionSetDescription(what), progressbar.OptionShowCount(), progressbar.OptionClearOnFinish()), total < 0}
}

// The errors of drawing a bar are no reason to stop the work.

// step counts one more thing done.
func (b bar) step() {
	if b.ProgressBar != nil {
		_ = b.Add(1)
	}
}

// at says how many are done.
func (b bar) at(done int) {
	if b.ProgressBar != nil {
		_ = b.Set(done)
	}
}

// clear takes the bar off the screen, so that something can be printed, and ends a spinner.
func (b bar) clear() {
	switch {
	case b.ProgressBar == nil:
	case b.spins:
		_ = b.Finish()
	default:
		_ = b.Clear()
	}
}
