package main

import (
	"bytes"
	"context"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everyCommand gives all commands, as a fresh program has them.
func everyCommand(t *testing.T) (root *cobra.Command, all []*cobra.Command) {
	t.Helper()
	var out bytes.Buffer
	root = newRootCommand(&app{now: time.Now, getenv: os.Getenv, stdin: strings.NewReader(""), stdout: &out, stderr: &out})
	var walk func(*cobra.Command)
	walk = func(cmd *cobra.Command) {
		all = append(all, cmd)
		for _, sub := range cmd.Commands() {
			walk(sub)
		}
	}
	walk(root)
	require.Greater(t, len(all), 40)
	return root, all
}

// ours says whether the help of a command is ours, not the library's.
func ours(cmd *cobra.Command) bool { return !strings.Contains(cmd.CommandPath(), " completion") }

// shellWords splits an example line as a shell does, redirections left out.
func shellWords(t *testing.T, line string) []string {
	t.Helper()
	var words []string
	var word strings.Builder
	quoted, started := false, false
	flush := func() {
		if started {
			words = append(words, word.String())
		}
		word.Reset()
		started = false
	}
	for _, r := range line {
		switch {
		case r == '"':
			quoted, started = !quoted, true
		case r == ' ' && !quoted:
			flush()
		default:
			word.WriteRune(r)
			started = true
		}
	}
	require.Falsef(t, quoted, "a quote is open in %q", line)
	flush()
	for i, w := range words {
		if w == ">" || w == "<" || w == "|" {
			return words[:i]
		}
	}
	return words
}

func TestEveryExampleParses(t *testing.T) {
	_, all := everyCommand(t)
	examples := 0
	for _, cmd := range all {
		if !ours(cmd) {
			continue
		}
		if !cmd.HasSubCommands() {
			assert.NotEmptyf(t, cmd.Example, "%s has no example", cmd.CommandPath())
		}
		for line := range strings.Lines(cmd.Example) {
			line = strings.TrimSpace(line)
			if line == "" {
				continue
			}
			examples++
			words := shellWords(t, line)
			require.Equalf(t, "limbwatch", words[0], "example %q", line)
			root, _ := everyCommand(t) // flags remember what they were set to
			found, rest, err := root.Find(words[1:])
			require.NoErrorf(t, err, "example %q", line)
			if cmd.HasParent() && !cmd.HasSubCommands() {
				assert.Equalf(t, cmd.CommandPath(), found.CommandPath(), "example %q stands in another command's help", line)
			}
			assert.NoErrorf(t, found.ParseFlags(rest), "example %q", line)
			assert.NoErrorf(t, found.ValidateArgs(found.Flags().Args()), "example %q", line)
			assert.NoErrorf(t, found.ValidateRequiredFlags(), "example %q", line)
			assert.NoErrorf(t, found.ValidateFlagGroups(), "example %q", line)
		}
	}
	assert.Greater(t, examples, 60)
}

func TestHelpIsWholeAndBritish(t *testing.T) {
	_, all := everyCommand(t)
	american := regexp.MustCompile(`(?i)\b(center|color|gray|catalog\b[^ue]|meter|analyz\w*|disk|organiz\w*|recogniz\w*|labeled|favorite|neighbor\w*)\b`)
	for _, cmd := range all {
		if !ours(cmd) {
			continue
		}
		path := cmd.CommandPath()
		assert.NotEmptyf(t, cmd.Short, path)
		assert.Falsef(t, strings.HasSuffix(cmd.Short, "."), "%s: %q ends in a full stop", path, cmd.Short)
		for line := range strings.Lines(cmd.Long) {
			if strings.HasPrefix(line, "  ") { // a table may be as wide as it needs
				continue
			}
			assert.LessOrEqualf(t, len([]rune(strings.TrimRight(line, "\n"))), 88, "%s: line too long: %q", path, line)
		}
		text := cmd.Short + "\n" + cmd.Long
		cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
			assert.NotEmptyf(t, f.Usage, "%s --%s is not explained", path, f.Name)
			text += "\n" + f.Usage
		})
		assert.NotContainsf(t, cmd.LocalFlags().FlagUsages(), "(default [])", "%s: a default that says nothing", path)
		assert.Emptyf(t, american.FindAllString(text, -1), "%s is not spelt as the rest", path)
	}
}

func TestHelpIsFound(t *testing.T) {
	assert.Contains(t, done(t, "--help"), "Exit codes: 0 done, 1 failed, 2 misused")
	assert.Regexp(t, `^limbwatch \S.*\n$`, done(t, "--version"))
	assert.Contains(t, done(t), "Never look at the Sun", "the caution stands where an observer begins")
	assert.Equal(t, done(t, "mark", "add", "--help"), done(t, "help", "mark", "add"))
	for _, args := range [][]string{{"nosuch"}, {"frame", "nosuch"}, {"help", "nosuch"}, {"completion", "nosuch"}, {"log", "nosuch"}} {
		refused(t, exitMisused, "is no command of", args...)
	}
	assert.Contains(t, refused(t, exitMisused, "is no command", "frame", "ad").stderr, "did you mean add")
	got := refused(t, exitMisused, "want PICTURE..., got nothing", "frame", "add")
	assert.Contains(t, got.stderr, "usage: limbwatch frame add PICTURE...")
	refused(t, exitMisused, "want no arguments, got F1", "frame", "list", "F1")
	refused(t, exitMisused, "want MARK, got M1, M2", "mark", "show", "M1", "M2")
	assert.Contains(t, refused(t, exitMisused, "unknown flag", "frame", "list", "--bad").stderr, "see limbwatch frame list --help")
	refused(t, exitMisused, "needs an argument", "--catalog")
}

func TestShellsComplete(t *testing.T) {
	folder := aDay(t)
	require.NotEmpty(t, folder)
	done(t, "mark", "add", "sunspot", "--frame", "F1", "--point", "280,250")
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		assert.Contains(t, done(t, "completion", shell), "limbwatch")
	}
	for _, c := range []struct {
		line   string
		offers []string
		files  bool
	}{
		{"frame show ", []string{"F1"}, false},
		{"frame add ", nil, true},
		{"disc find ", nil, true},
		{"import positions ", nil, true},
		{"mark show ", []string{"M1"}, false},
		{"mark add ", []string{"sunspot", "plage", "filament", "prominence", "other"}, false},
		{"mark add sunspot --frame ", []string{"F1"}, false},
		{"frame add x.png --role ", []string{"surface", "limb", "both"}, false},
		{"frame add x.png --setup ", []string{"U1"}, false},
		{"frame add x.png --site ", []string{"L1"}, false},
		{"sitting edit ", []string{"S1"}, false},
		{"observer edit ", []string{"O1"}, false},
		{"site edit ", []string{"L1"}, false},
		{"log --kind ", []string{"filament"}, false},
		{"north solve F1 --drift ", []string{"F1"}, false},
		{"frame list ", nil, false},
	} {
		words := strings.Split(c.line, " ")
		got := limbwatch(t, "", append([]string{"__complete"}, words...)...)
		require.Equal(t, exitDone, got.code, "%s: %s", c.line, got.stderr)
		for _, offer := range c.offers {
			assert.Regexp(t, "(?m)^"+offer+`(\t|$)`, got.stdout, c.line)
		}
		assert.Equal(t, c.files, strings.Contains(got.stdout, "\n:0\n") || strings.HasPrefix(got.stdout, ":0\n"), "%q completes files: %s", c.line, got.stdout)
	}

	// Where there is no catalogue none is made by pressing a key.
	none := folder + "/none.db"
	got := limbwatchUntil(t, context.Background(), nil, "", "__complete", "--catalog", none, "frame", "show", "")
	assert.Equal(t, exitDone, got.code)
	assert.NoFileExists(t, none)
}
