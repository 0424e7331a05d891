// Limbwatch turns pictures of the whole Sun into a record: positions with error
// bars, kept in a catalogue and followed from day to day.
//
// This package holds the command line, a file a command. What a command does is
// written in the packages below catalog and coords; here are its words, its
// flags and its advice when something is wrong.
package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
	"time"
	_ "time/tzdata" // zones by name also where the system has no list of them

	"limbwatch/catalog/wholefile"
)

func main() {
	debug.SetMemoryLimit(memoryGoal)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	ended := make(chan struct{})
	context.AfterFunc(ctx, func() {
		stop() // a second Ctrl-C ends it at once
		select {
		case <-ended: // its own word and exit code count
		case <-time.After(patience):
			leave(os.Stderr)
		}
	})
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	close(ended)
	os.Exit(code)
}

// memoryGoal makes the collector of garbage work harder as memory nears it: of a picture
// at the bounds of what is read, what has been read from it is not kept for long.
const memoryGoal = 1 << 30

// patience is how long a command that was told to stop may take to come to an end.
const patience = 200 * time.Millisecond

// leave ends a command that does not stop by itself, as one that waits for standard input
// or decodes a large picture. Nothing is half done: a change that was not finished is
// undone when the catalogue is opened next, and a file that was not is removed.
func leave(stderr io.Writer) {
	wholefile.RemoveUnfinished()
	complain(stderr, &stoppedError{context.Canceled, ""})
	os.Exit(exitFailed)
}

// run executes one command line and gives its exit code: 0 done, 1 failed,
// 2 misused.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	stdout, stderr = &shown{to: stdout}, &shown{to: stderr}
	app := &app{now: time.Now, getenv: os.Getenv, stdin: stdin, stdout: stdout, stderr: stderr}
	root := newRootCommand(app)
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	cmd, err := root.ExecuteContextC(ctx)
	switch {
	case err != nil && !app.started:
		err = inPlainWords(cmd, err)
	case errors.Is(err, context.Canceled):
		err = app.stopped(err)
	}
	if err == nil {
		app.backUpDay(ctx)
	}
	err = errors.Join(err, app.close(ctx, err != nil))
	if err == nil {
		return exitDone
	}
	code := exitCode(err, app.started)
	if !isSilent(err) {
		complain(stderr, err)
	}
	return code
}
