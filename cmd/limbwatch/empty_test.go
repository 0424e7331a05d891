package main

import (
	"io"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A script whose variable was never set types --at "": of no flag of any command may that
// mean the default, save where it takes away what was there.
func TestNothingBehindAFlagIsRefused(t *testing.T) {
	newCatalogue(t)
	for _, line := range [][]string{
		{"sun", "--at", ""}, {"sun", "--at", "  "}, {"sun", "--times", ""}, {"expect", "--at", ""}, {"expect", "--frame", ""},
		{"chart", "coming", "--at", "", "--out", "x.svg"}, {"log", "--from", ""}, {"log", "--kind", ""}, {"log", "--kind", "plage,"},
		{"log", "--label", ""}, {"export", "marks", "-", "--to", ""}, {"export", "marks", "-", "--kind", ""}, {"--catalog", "", "log"},
		{"mark", "add", "sunspot", "--at", "2026-03-14T09:00:00Z", "--place", "N08E14", "--height", ""},
		{"mark", "add", "sunspot", "--at", "2026-03-14T09:00:00Z", "--place", "N08E14", "--observer", ""},
		{"sitting", "add", "2026-03-14", "--looked", ""}, {"log", "day", "2026-03-14", "--spots", "3", "--at", ""},
		{"frame", "add", "x.png", "--zone", ""}, {"frame", "add", "x.png", "--at", ""}, {"frame", "add", "x.png", "--limb", ""},
		{"import", "positions", "x.csv", "--keep-good", "--rejects", ""}, {"import", "record", "x.jsonl", "--prefer", ""},
		{"log", "report", "--month", ""}, {"place", "--at", "", "--disc", "9,9,9", "--north", "0", "1,1"}, {"demo", "--folder", ""},
	} {
		got := refused(t, exitMisused, "there is nothing in it", line...)
		assert.Empty(t, got.stdout, "%v", line)
	}
	done(t, "observer", "add", "Wren Holloway", "--code", "WH")
	done(t, "observer", "edit", "Wren Holloway", "--code", "", "--note", "")
	assert.Empty(t, asJSON[[]object](t, "observer", "list")[0]["code"])
}

func TestEveryFlagTellsAnEmptyValue(t *testing.T) {
	seen := 0
	var walk func(build func() *cobra.Command, path []string)
	walk = func(build func() *cobra.Command, path []string) {
		cmd, _, err := build().Find(path)
		require.NoError(t, err)
		var names []string
		cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if strings.HasPrefix(f.Value.Type(), "string") && f.Annotations[takesNothing] == nil {
				names = append(names, f.Name)
			}
		})
		for _, name := range names {
			fresh, _, err := build().Find(path)
			require.NoError(t, err)
			require.NoError(t, fresh.ParseFlags([]string{"--" + name + "="}))
			seen++
			assert.ErrorContains(t, refuseEmpty(fresh), "--"+name, "%v", path)
		}
		for _, sub := range cmd.Commands() {
			if sub.Name() != "completion" && sub.Name() != "help" {
				walk(build, append(path[:len(path):len(path)], sub.Name()))
			}
		}
	}
	walk(func() *cobra.Command {
		return newRootCommand(&app{now: time.Now, getenv: func(string) string { return "" }, stdin: strings.NewReader(""), stdout: io.Discard, stderr: io.Discard})
	}, nil)
	assert.Greater(t, seen, 60, "flags were found")
}
