package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
)

// actAsLimbwatch is set where a test starts this test binary as the program itself.
const actAsLimbwatch = "LIMBWATCH_TEST_ACTS_AS_PROGRAM"

// TestMain gives all tests a catalogue that is nobody's, so that none touches that
// of whoever runs them.
func TestMain(m *testing.M) {
	if os.Getenv(actAsLimbwatch) != "" {
		main()
		return
	}
	releaseVersion = "0-test" // what is compared does not change with the version
	folder, err := os.MkdirTemp("", "limbwatch-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Setenv(backupsVariable, noBackups)
	os.Setenv("LIMBWATCH_CATALOG", filepath.Join(folder, "nobodys.db"))
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}

// newCatalogue makes the commands of this test use a catalogue of its own, and gives
// the folder in which it lies.
func newCatalogue(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	t.Setenv("LIMBWATCH_CATALOG", filepath.Join(folder, "catalogue.db"))
	return folder
}

// emptyCatalogue is newCatalogue with a catalogue that is there, in which nothing is kept.
func emptyCatalogue(t *testing.T) string {
	t.Helper()
	folder := newCatalogue(t)
	k, err := observe.Open(t.Context(), os.Getenv("LIMBWATCH_CATALOG"), catalog.Terminal, time.Now)
	require.NoError(t, err)
	require.NoError(t, k.Close())
	return folder
}

// said is what a command line answered.
type said struct {
	code           int
	stdout, stderr string
}

// limbwatch runs one command line as main does.
func limbwatch(t *testing.T, stdin string, args ...string) said {
	t.Helper()
	return limbwatchUntil(t, context.Background(), nil, stdin, args...)
}

// limbwatchUntil runs one command line that may be stopped through its context;
// stdout, unless nil, sees what is printed as it is.
func limbwatchUntil(t *testing.T, ctx context.Context, stdout io.Writer, stdin string, args ...string) said {
	t.Helper()
	var out, stderr bytes.Buffer
	to := io.Writer(&out)
	if stdout != nil {
		to = io.MultiWriter(&out, stdout)
	}
	code := run(ctx, append([]string{}, args...), strings.NewReader(stdin), to, &stderr)
	return said{code, out.String(), stderr.String()}
}

// done runs a command line that must succeed, and gives what it printed.
func done(t *testing.T, args ...string) string {
	t.Helper()
	got := limbwatch(t, "", args...)
	require.Equalf(t, exitDone, got.code, "limbwatch %s: %s", strings.Join(args, " "), got.stderr)
	return got.stdout
}

// refused runs a command line that must end with a code and say why.
func refused(t *testing.T, code int, says string, args ...string) said {
	t.Helper()
	got := limbwatch(t, "", args...)
	assert.Equalf(t, code, got.code, "limbwatch %s\n%s%s", strings.Join(args, " "), got.stdout, got.stderr)
	assert.Containsf(t, got.stderr, says, "limbwatch %s", strings.Join(args, " "))
	for line := range strings.Lines(got.stderr) {
		assert.Truef(t, strings.HasPrefix(line, "limbwatch: "), "a line that does not say whose it is: %q", line)
	}
	return got
}

// asJSON runs a command line with --json and reads what it printed.
func asJSON[T any](t *testing.T, args ...string) T {
	t.Helper()
	var value T
	text := done(t, append(args, "--json")...)
	require.NoErrorf(t, json.Unmarshal([]byte(text), &value), "%s", text)
	return value
}

// object is a JSON object of which a test looks at a few fields.
type object map[string]any

// number is a number of a JSON object; it must be there.
func (o object) number(t *testing.T, name string) float64 {
	t.Helper()
	v, ok := o[name].(float64)
	require.Truef(t, ok, "%s is %v, want a number", name, o[name])
	return v
}

func (o object) text(t *testing.T, name string) string {
	t.Helper()
	v, ok := o[name].(string)
	require.Truef(t, ok, "%s is %v, want text", name, o[name])
	return v
}

func (o object) object(t *testing.T, name string) object {
	t.Helper()
	v, ok := o[name].(map[string]any)
	require.Truef(t, ok, "%s is %v, want an object", name, o[name])
	return v
}
