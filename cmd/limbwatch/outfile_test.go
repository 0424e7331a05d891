//go:build unix

package main

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// What the record stands on is not written over, whatever is said; under its name, by
// another way to it, or by what it holds.
func TestForceStopsBeforeTheRecord(t *testing.T) {
	folder := newCatalogue(t)
	at := time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)
	picture, _ := paintPNG(t, "2026-03-14T152310Z.png", paint.Scene{Camera: paint.Centred(300, 300, 120), Band: paint.WhiteLight(), Face: ephemeris.At(at), Seed: 3})
	done(t, "frame", "add", picture)
	done(t, "north", "set", "F1", "--north", "0")
	catalogue := filepath.Join(folder, "catalogue.db")
	export := filepath.Join(folder, "out.jsonl")
	done(t, "export", "record", export)
	refused(t, exitFailed, "there already", "export", "record", export)
	done(t, "export", "record", export, "--force")

	moved := filepath.Join(folder, "copy.svg")
	content, err := os.ReadFile(picture)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(moved, content, 0o644))
	links := map[string]string{"db.jsonl": catalogue, "sun.svg": picture}
	for name, to := range links {
		require.NoError(t, os.Symlink(to, filepath.Join(folder, name)))
	}
	before, err := os.ReadFile(catalogue)
	require.NoError(t, err)
	for _, args := range [][]string{
		{"export", "record", catalogue, "--force"},
		{"export", "record", filepath.Join(folder, ".", "x", "..", "catalogue.db-wal"), "--force"},
		{"export", "record", catalogue + "-shm"},
		{"export", "record", filepath.Join(folder, "db.jsonl"), "--force"},
		{"chart", "disc", "F1", "--out", filepath.Join(folder, "sun.svg"), "--force"},
		{"chart", "disc", "F1", "--out", picture, "--force"},
		{"chart", "disc", "F1", "--out", moved, "--force"},
	} {
		refused(t, exitFailed, "is not written over", args...)
	}
	after, err := os.ReadFile(catalogue)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	for _, path := range []string{picture, moved} {
		now, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, content, now)
	}
	assert.Contains(t, done(t, "frame", "list"), "F1")
}

func TestDevicesAreWrittenThrough(t *testing.T) {
	newCatalogue(t)
	done(t, "observer", "add", "R. Vane")
	before, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	done(t, "export", "record", os.DevNull)
	done(t, "export", "record", os.DevNull, "--force")
	after, err := os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.True(t, os.SameFile(before, after))
	if _, err := os.Stat("/dev/full"); err == nil { // full(4)
		refused(t, exitFailed, "no space left", "export", "record", "/dev/full")
	}
}

// Everything that reads a file looks at it first.
func TestPipesFoldersAndDevicesAreNoFiles(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "observer", "add", "R. Vane") // log report asks for the catalogue first
	pipe := filepath.Join(folder, "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	for what, path := range map[string]string{"a pipe": pipe, "a folder": folder, "a device": "/dev/zero"} {
		for _, args := range [][]string{
			{"disc", "find", path},
			{"frame", "add", path},
			{"import", "positions", path},
			{"import", "record", path},
			{"sun", "--times", path},
			{"log", "report", "--month", "2026-03", "--out", folder, "--words", path},
		} {
			refused(t, exitFailed, what, args...)
		}
	}
	at := time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)
	picture, _ := paintPNG(t, "2026-03-14T152310Z.png", paint.Scene{Camera: paint.Centred(300, 300, 120), Band: paint.WhiteLight(), Face: ephemeris.At(at), Seed: 3})
	require.NoError(t, syscall.Mkfifo(picture[:len(picture)-len(".png")]+".txt", 0o600))
	got := limbwatch(t, "", "frame", "add", picture)
	require.Equal(t, exitDone, got.code, got.stderr)
	done(t, "north", "set", "F1", "--north", "0")
	assert.Contains(t, got.stdout+got.stderr, "a pipe", "the text beside the picture is told, and not waited for")
	require.NoError(t, os.Remove(picture))
	require.NoError(t, syscall.Mkfifo(picture, 0o600))
	refused(t, exitFailed, "a pipe", "chart", "disc", "F1", "--out", filepath.Join(folder, "f1.svg"))
}

// Whatever a command was writing, a full disk is told with what to do.
func TestAFullDiskGetsAHint(t *testing.T) {
	if _, err := os.Stat("/dev/full"); err != nil { // Linux, full(4): every write is ENOSPC
		t.Skip("LOUD: no device here that is always full, so none was tried")
	}
	folder := newCatalogue(t)
	done(t, "mark", "add", "sunspot", "--at", "2026-03-14T15:23:10Z", "--place", "N08E14")
	for name, command := range map[string][]string{
		"full.jsonl": {"export", "record"}, "full.csv": {"export", "marks"}, "full.vot": {"export", "marks"},
		"full.svg": {"chart", "map", "--out"}, "full.png": {"chart", "numbers", "--out"},
	} {
		path := filepath.Join(folder, name)
		require.NoError(t, os.Symlink("/dev/full", path))
		got := refused(t, exitFailed, "no space left", append(command, path, "--force")...)
		assert.Contains(t, got.stderr, "hint: make room on that disk", command)
	}
}
