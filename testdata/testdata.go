// Package testdata finds what tests hold the program against that is not kept in this
// folder: the shared data, too large for the repository or under terms of their own,
// which lie beside it.
package testdata

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Shared is the absolute path of something of the shared data, whose folder the
// environment variable LIMBWATCH_SHARED names (else it is ../shared from the root of the
// repository). Where it is not there the test is left out, and says so loudly.
func Shared(t testing.TB, parts ...string) string {
	t.Helper()
	folder := os.Getenv("LIMBWATCH_SHARED")
	if folder == "" {
		folder = filepath.Join(root(t), "..", "shared")
	}
	path, err := filepath.Abs(filepath.Join(append([]string{folder}, parts...)...))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); err != nil {
		t.Skipf("NOT CHECKED against the shared data: %v; LIMBWATCH_SHARED names their folder", err)
	}
	return path
}

// root is the folder of the repository: the nearest above that has a go.mod.
func root(t testing.TB) string {
	t.Helper()
	folder, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(folder, "go.mod")); err == nil {
			return folder
		}
		above := filepath.Dir(folder)
		if above == folder {
			t.Fatal("no go.mod here or above")
		}
		folder = above
	}
}

// Long says whether tests that come in two lengths run the long one, as the environment
// variable LIMBWATCH_LONG asks for: many kills, histories of many steps.
func Long() bool { return os.Getenv("LIMBWATCH_LONG") != "" }

// Kills is how many programs more a test kills than it does in a short run: LIMBWATCH_LONG
// says so as a number, and any other word asks for two hundred.
func Kills() int {
	if !Long() {
		return 0
	}
	if n, err := strconv.Atoi(os.Getenv("LIMBWATCH_LONG")); err == nil && n > 1 {
		return n
	}
	return 200
}

// Thorough says whether statistical tests run their full sets, as the environment variable
// LIMBWATCH_THOROUGH asks for and .ci/run does. Without it each runs a part of its set, and
// checks the same things.
func Thorough() bool { return os.Getenv("LIMBWATCH_THOROUGH") != "" }
