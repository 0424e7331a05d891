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
	"syscall"
	"time"
	_ "time/tzdata" // zones by name also where the system has no list of them
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop) // a second Ctrl-C ends it at once
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run executes one command line and gives its exit code: 0 done, 1 failed,
// 2 misused.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
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
	err = errors.Join(err, app.close())
	if err == nil {
		return exitDone
	}
	code := exitCode(err, app.started)
	if !isSilent(err) {
		complain(stderr, err)
	}
	return code
}
