package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
)

// said is what a command line answered.
type said struct {
	code           int
	stdout, stderr string
}

// limbwatch runs one command line as main does, with its own data folder, so
// that no test touches the catalogue of whoever runs it.
func limbwatch(t *testing.T, stdin string, args ...string) said {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code := run(context.Background(), args, strings.NewReader(stdin), &stdout, &stderr)
	return said{code, stdout.String(), stderr.String()}
}
