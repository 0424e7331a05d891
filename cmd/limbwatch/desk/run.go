package desk

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strconv"
	"syscall"
	"time"
)

// DefaultPort is tried first; another desk may have it already.
const DefaultPort = 8077

// Options is how a desk is opened.
//
//	Port     0: DefaultPort, or a free one when it is taken. Any other number is
//	         taken at its word: when it is in use, Run says so
//	NoOpen   only print the address
//	Out      where the address is printed
//	Open     shows a file in the browser; nil: the system's way
type Options struct {
	Port   int
	NoOpen bool
	Out    io.Writer
	Open   func(path string) error
}

// patience is how long running requests may take to finish once the page is to end. One
// that does not has told nobody that something was kept.
const patience = 120 * time.Millisecond

// Run serves the page on 127.0.0.1 until ctx ends, then lets running requests
// finish and returns nil.
func Run(ctx context.Context, opts Options, deps Dependencies) error {
	listener, err := listen(ctx, opts.Port)
	if err != nil {
		return err
	}
	letter := &letter{}
	defer letter.remove()
	door := newDoor(listener.Addr().String(), func(address string) {
		letter.remove()
		fmt.Fprintf(opts.Out, "opened; for another browser: %s\n", address)
	})
	server, err := NewServer(deps)
	if err != nil {
		listener.Close()
		return err
	}
	defer server.Close()
	web := &http.Server{
		Handler:           door.guard(server),
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       5 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	address := door.address()
	fmt.Fprintf(opts.Out, "The marking page: %s\nIt opens once, on this machine only. Ctrl-C ends it.\n", address)

	if deps.DayBackup != nil {
		go backUpDays(ctx, deps)
	}
	served := make(chan error, 1)
	go func() { served <- web.Serve(listener) }()
	if !opts.NoOpen {
		show := opts.Open
		if show == nil {
			show = openBrowser
		}
		path, err := letter.write(address)
		if err == nil {
			err = show(path)
		}
		if err != nil {
			fmt.Fprintf(opts.Out, "no browser could be started (%v): open the address by hand\n", err)
		}
	}
	select {
	case err := <-served:
		return err
	case <-ctx.Done():
	}
	server.Close() // ends the streams of news, which would last for ever
	patience, cancel := context.WithTimeout(context.WithoutCancel(ctx), patience)
	defer cancel()
	if err := web.Shutdown(patience); err != nil {
		web.Close()
	}
	if err := <-served; !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// listen takes the wanted port, on the loopback interface only.
func listen(ctx context.Context, port int) (net.Listener, error) {
	if port < 0 || port > 65535 {
		return nil, fmt.Errorf("port %d: want 1 to 65535", port)
	}
	wanted := port
	if wanted == 0 {
		wanted = DefaultPort
	}
	var config net.ListenConfig
	listener, err := config.Listen(ctx, "tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(wanted)))
	if err != nil && port == 0 && errors.Is(err, syscall.EADDRINUSE) {
		listener, err = config.Listen(ctx, "tcp4", "127.0.0.1:0")
	}
	if errors.Is(err, syscall.EADDRINUSE) {
		return nil, fmt.Errorf("port %d is in use: %w", wanted, err)
	}
	return listener, err
}

// lookForBackup is how often the page asks whether the day's backup is due.
const lookForBackup = 5 * time.Minute

// backUpDays makes the day's backup whenever it is due, until ctx ends.
func backUpDays(ctx context.Context, deps Dependencies) {
	look := time.NewTicker(lookForBackup)
	defer look.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-look.C:
		}
		if err := deps.DayBackup(ctx); err != nil && ctx.Err() == nil {
			deps.Log.Warn("desk: the day's backup was not made", "error", err)
		}
	}
}
