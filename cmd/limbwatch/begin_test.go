package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// keepsNoCatalogue are the commands that need none.
var keepsNoCatalogue = []string{"limbwatch demo", "limbwatch sun", "limbwatch place", "limbwatch disc find", "limbwatch version", "limbwatch help", "limbwatch completion"}

// Every example of every command is run where there is no catalogue. Only those that keep
// something new make one; the others say so, and what to do, and leave no trace.
func TestReadingMakesNoCatalogue(t *testing.T) {
	_, all := everyCommand(t)
	tried := 0
	for _, cmd := range all {
		needsNone := false
		for _, path := range keepsNoCatalogue {
			needsNone = needsNone || strings.HasPrefix(cmd.CommandPath(), path)
		}
		unless, begins := cmd.Annotations[beginsKey]
		if needsNone || cmd.HasSubCommands() && !cmd.HasExample() || cmd.CommandPath() == "limbwatch" || cmd.Name() == "desk" {
			continue
		}
		for line := range strings.Lines(cmd.Example) {
			words := shellWords(t, strings.TrimSpace(line))
			if len(words) < 2 {
				continue
			}
			looks := !begins || unless != "" && strings.Contains(line, "--"+unless)
			if !looks {
				continue
			}
			t.Run(strings.Join(words[1:], " "), func(t *testing.T) {
				folder := t.TempDir()
				t.Chdir(folder)
				t.Setenv("TMPDIR", folder)
				catalogue := filepath.Join(folder, "none.db")
				t.Setenv("LIMBWATCH_CATALOG", catalogue)
				for _, file := range []string{"old-log.csv", "march.jsonl", "words.txt"} {
					require.NoError(t, os.WriteFile(file, []byte("kind,utc,lat_deg,lon_deg\n"), 0o644))
				}
				got := limbwatch(t, "", words[1:]...)
				tried++
				if unless != dryRunFlag {
					assert.Equal(t, exitFailed, got.code)
					assert.Contains(t, got.stderr, "there is no catalogue yet: "+catalogue)
					assert.Contains(t, got.stderr, "hint: ")
					assert.Empty(t, got.stdout)
				}
				left, err := os.ReadDir(folder)
				require.NoError(t, err)
				assert.Len(t, left, 3, "nothing is made by looking")
			})
		}
	}
	assert.Greater(t, tried, 60)
}

// A command that could not keep anything leaves no empty catalogue behind, whatever was wrong.
func TestACommandThatFailsLeavesNoCatalogue(t *testing.T) {
	folder := newCatalogue(t)
	text := filepath.Join(folder, "words.txt")
	require.NoError(t, os.WriteFile(text, []byte("seeing 3\n"), 0o644))
	for _, args := range [][]string{
		{"frame", "add", filepath.Join(folder, "missing.png")}, {"frame", "add", text}, {"frame", "add", text, "--role", "odd"},
		{"import", "positions", text}, {"import", "record", text}, {"import", "record", filepath.Join(folder, "missing")},
		{"mark", "add", "sunspot", "--at", "nonsense", "--place", "N08E14"}, {"site", "add", "X", "--lat", "500", "--lon", "2"},
		{"instrument", "add", "X", "--aperture=-4"}, {"log", "day", "2026-99-99", "--groups", "N1,S1"},
	} {
		got := limbwatch(t, "", args...)
		assert.NotEqual(t, exitDone, got.code, "%v", args)
		assert.NotContains(t, got.stderr, "new catalogue", "%v", args)
		left, err := os.ReadDir(folder)
		require.NoError(t, err)
		assert.Len(t, left, 1, "%v leaves %v", args, left)
	}
	assert.Contains(t, limbwatch(t, "", "observer", "add", "Wren").stderr, "new catalogue")
	limbwatch(t, "", "frame", "add", text)
	done(t, "observer", "list") // one that was there before stays
}

func TestADryRunNeedsNoCatalogue(t *testing.T) {
	folder := newCatalogue(t)
	rows := filepath.Join(folder, "rows.csv")
	require.NoError(t, os.WriteFile(rows, []byte("kind,utc,lat_deg,lon_deg\nsunspot,2026-03-14T15:23:10Z,12,50\n"), 0o644))
	got := limbwatch(t, "", "import", "positions", rows, "--dry-run")
	assert.Equal(t, exitDone, got.code, got.stderr)
	assert.Contains(t, got.stderr, "there is no catalogue yet; tried on an empty one")
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, left, 1)
}

func TestTheFirstRunExplainsItself(t *testing.T) {
	newCatalogue(t)
	out := done(t)
	for _, want := range []string{"There is no catalogue yet (it would be " + os.Getenv("LIMBWATCH_CATALOG"), "limbwatch demo", "limbwatch desk", "limbwatch frame add PICTURE", "Never look at the Sun"} {
		assert.Contains(t, out, want)
	}
	assert.NoFileExists(t, os.Getenv("LIMBWATCH_CATALOG"))
	// What it tells to type works, in that order.
	for line := range strings.Lines(out) {
		words := shellWords(t, strings.TrimSpace(line))
		if len(words) > 2 && words[0] == "limbwatch" && words[2] == "add" && words[1] != "frame" {
			done(t, words[1:]...)
		}
	}
	assert.Len(t, asJSON[[]object](t, "instrument", "list"), 1)
	assert.Contains(t, done(t), "Available Commands", "once there is one, the help")
}

// Of an empty catalogue every reading command says that it is, and what to do.
func TestAnEmptyCatalogueSaysSo(t *testing.T) {
	emptyCatalogue(t)
	t.Chdir(t.TempDir())
	for _, c := range []struct{ line, says string }{
		{"observer list", "no observer yet: limbwatch observer add"},
		{"site list", "no site yet: limbwatch site add"},
		{"instrument list", "no telescope yet: limbwatch instrument add"},
		{"frame list", "no frame yet: limbwatch frame add"},
		{"mark list", "limbwatch mark add"},
		{"log", "limbwatch mark add"},
		{"sitting list", "no sitting yet: the first frame begins one"},
		{"track list", "limbwatch track follow"},
		{"track follow", "no mark is new or was changed (limbwatch mark add)"},
		{"track rates", "no passage is long enough yet"},
		{"track returns", "no passage is likely"},
		{"edge --all", "limbwatch mark add prominence"},
		{"expect", "limbwatch track follow"},
		{"history", "nothing was done yet"},
		{"chart map --out map.svg", "an empty chart: no mark in rotation"},
		{"chart latitudes --out latitudes.svg", "an empty chart: no mark from"},
		{"chart numbers --out numbers.svg", "an empty chart: nothing was counted from"},
		{"chart rates --out rates.svg", "an empty chart: no passage of a sunspot"},
		{"chart coming --out coming.svg", "an empty chart: nothing followed was seen"},
		{"export marks marks.csv", "no mark was found"},
		{"export record record.jsonl", "nothing was observed in this range"},
		{"log report --month 2026-03 --out march", "an empty report: nothing was observed"},
	} {
		t.Run(c.line, func(t *testing.T) {
			got := limbwatch(t, "", strings.Fields(c.line)...)
			assert.Equal(t, exitDone, got.code)
			assert.Contains(t, got.stdout+got.stderr, c.says)
		})
	}
	for _, name := range []string{"map", "latitudes", "numbers", "rates", "coming"} {
		drawn, err := os.ReadFile(name + ".svg")
		require.NoError(t, err)
		said := strings.Join(strings.Fields(string(drawn)), " ")
		assert.Regexp(t, "no mark in this rotation|no sunspots in these days|nothing was counted|none of your own yet|nothing is expected", said, name)
	}
	for _, line := range []string{"undo", "redo", "frame show F1", "mark show M1", "track show x", "chart disc F1 --out disc.svg"} {
		got := limbwatch(t, "", strings.Fields(line)...)
		assert.Equal(t, exitFailed, got.code, line)
	}
	assert.NoFileExists(t, "disc.svg")
}
