package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestVersionTellsWhatThisIs(t *testing.T) {
	assert.Equal(t, "limbwatch 0-test\n", done(t, "--version"))
	b := asJSON[object](t, "version")
	assert.Equal(t, "0-test", b["version"])
	// SQLite numbers its releases 3.y.z (sqlite.org/versionnumbers.html), Go names them goX.Y.
	assert.Regexp(t, `^3\.\d+\.\d+$`, b["sqlite"])
	assert.Regexp(t, `^go1\.\d+`, b["go"])
	text := done(t, "version")
	for _, want := range []string{"limbwatch 0-test\n", "\n  commit  ", "\n  build   release, ", "\n  SQLite  3.", "\n  Go      go1."} {
		assert.Contains(t, text, want)
	}

	pinned := releaseVersion
	releaseVersion = ""
	defer func() { releaseVersion = pinned }()
	assert.Regexp(t, `^limbwatch `+developed, programName(), "a build that is no release has a version too")
	assert.Contains(t, done(t, "version"), "not a release")
}

// Every file that is written names the version that wrote it; CSV has no place for it.
func TestFilesNameTheProgram(t *testing.T) {
	emptyCatalogue(t)
	t.Chdir(t.TempDir())
	done(t, add("sunspot", "--place", "N08E14")...)
	for _, line := range []string{
		"chart map --out map.svg", "chart map --out map.png", "chart coming --out coming.svg",
		"export marks marks.ecsv", "export marks marks.vot", "export record record.jsonl", "log report --month 2026-03 --out report",
	} {
		done(t, strings.Fields(line)...)
	}
	var files []string
	for _, pattern := range []string{"*.*", "report/*"} {
		found, err := filepath.Glob(pattern)
		require.NoError(t, err)
		files = append(files, found...)
	}
	looked := 0
	for _, file := range files {
		if strings.HasSuffix(file, ".csv") {
			continue
		}
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		// The PDF writes its strings as UTF-16, big-endian (ISO 32000-1, 7.9.2.2).
		wide := []byte("\x00" + strings.Join(strings.Split("limbwatch 0-test", ""), "\x00"))
		assert.Truef(t, bytes.Contains(text, []byte("limbwatch 0-test")) || bytes.Contains(text, wide), "%s does not name the program", file)
		looked++
	}
	assert.Equal(t, 12, looked, files)
}

// The word has two spellings; either is taken, and help shows one.
func TestEitherSpellingOfCatalogue(t *testing.T) {
	folder := emptyCatalogue(t)
	one := filepath.Join(folder, "one.db")
	done(t, add("sunspot", "--place", "N08E14", "--catalogue", one)...)
	assert.Len(t, asJSON[[]object](t, "log", "--catalog", one), 1)
	assert.Len(t, asJSON[[]object](t, "log", "--catalogue="+one), 1)
	t.Setenv("LIMBWATCH_CATALOG", "")
	t.Setenv("LIMBWATCH_CATALOGUE", one)
	assert.Len(t, asJSON[[]object](t, "log"), 1)
	_, all := everyCommand(t)
	for _, cmd := range all {
		assert.NotRegexp(t, `(--|_)(?i:catalog)\b`, cmd.UsageString()+cmd.Long, cmd.CommandPath())
		assert.NotContains(t, cmd.UsageString(), "Aliases", cmd.CommandPath())
	}
}
