package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
)

// hostile texts: what ECMA-48 terminals obey (ESC, CSI as one byte and as U+009B, OSC 52,
// backspace, carriage return, bell), and Unicode's directional formatting characters.
var hostile = []string{"\x1b[2J", "\u009b31m", "\x9b31m", "\x1b]52;c;eA==\a", "a\bb", "a\rb", "\x7f", "\u202egpj.exe", "\u2066x", "\u061cx", "a\u2028b", "\x00", "\xff\xfe"}

// steersNot holds an output against what no terminal may be sent.
func steersNot(t *testing.T, text, where string) {
	t.Helper()
	assert.True(t, utf8.ValidString(text), "%s: bytes that are no UTF-8, of which a terminal may make control characters: %q", where, text)
	for _, r := range text {
		if r != '\n' && r != '\t' {
			require.False(t, catalog.Steers(r), "%s sends %U: %q", where, r, text)
		}
	}
}

func TestShownLetsNothingSteer(t *testing.T) {
	for _, text := range hostile {
		var out bytes.Buffer
		s := &shown{to: &out}
		n, err := s.Write([]byte("☉ " + text + " é\n"))
		require.NoError(t, err)
		assert.Equal(t, len("☉ "+text+" é\n"), n)
		steersNot(t, out.String(), "shown")
		assert.True(t, strings.HasPrefix(out.String(), "☉ ") && strings.HasSuffix(out.String(), " é\n"), "%q: what is text stays", out.String())
	}
	var out bytes.Buffer
	s := &shown{to: &out}
	for _, b := range []byte("é☉\u202e\U0001F31E\n") {
		_, err := s.Write([]byte{b})
		require.NoError(t, err)
	}
	assert.Equal(t, "é☉\uFFFD\U0001F31E\n", out.String(), "characters that come in pieces are put together")
}

func TestJSONCarriesHostileTextUnharmed(t *testing.T) {
	for _, text := range hostile {
		if !utf8.ValidString(text) {
			continue // JSON has no bytes
		}
		var out bytes.Buffer
		require.NoError(t, printJSON(&out, map[string]string{"name": text}))
		steersNot(t, out.String(), "JSON")
		var back map[string]string
		require.NoError(t, json.Unmarshal(out.Bytes(), &back))
		assert.Equal(t, text, back["name"])
	}
}

func TestNamesThatSteerAreRefused(t *testing.T) {
	newCatalogue(t)
	for _, text := range hostile {
		if strings.Contains(text, "\x00") || !utf8.ValidString(text) {
			continue // no argument of a program holds these
		}
		for _, args := range [][]string{
			{"observer", "add", "R. " + text + "V"},
			{"site", "add", "G " + text + "V", "--lat", "50", "--lon", "15"},
			{"instrument", "add", "I " + text + "V"},
		} {
			got := limbwatch(t, "", args...)
			assert.Equal(t, exitMisused, got.code, "%q", args)
			assert.Contains(t, got.stderr, "control character")
			steersNot(t, got.stdout+got.stderr, strings.Join(args[:2], " "))
		}
	}
}

// No command sends what could steer a terminal, wherever it comes from: paths, notes,
// imported rows and records, arguments that are no such thing.
func TestNoCommandSteersATerminal(t *testing.T) {
	folder := newCatalogue(t)
	at := time.Date(2026, 3, 14, 15, 23, 10, 0, time.UTC)
	painted, _ := paintPNG(t, "sun.png", paint.Scene{Camera: paint.Centred(300, 300, 120), Band: paint.WhiteLight(), Face: ephemeris.At(at), Seed: 3})
	content, err := os.ReadFile(painted)
	require.NoError(t, err)
	const odd = "\x1b[2J\u202e\u009bx"
	picture := filepath.Join(folder, "2026-03-14T152310Z"+odd+".png")
	require.NoError(t, os.WriteFile(picture, content, 0o644))
	require.NoError(t, os.WriteFile(strings.TrimSuffix(picture, ".png")+".txt", []byte("UTC="+odd+"\n"), 0o644))
	rows := filepath.Join(folder, "rows"+odd+".csv")
	require.NoError(t, os.WriteFile(rows, []byte("kind,utc,lat_deg,lon_deg,note,"+odd+"\nplage,2026-03-14T15:23:10Z,1,2,"+odd+",x\nplage,"+odd+",1,2,,\n"), 0o644))
	record := filepath.Join(folder, "record"+odd+".jsonl")
	require.NoError(t, os.WriteFile(record, []byte(`{"noun":"record","version":1}`+"\n"+`{"noun":"`+odd+`"}`+"\n"), 0o644))
	for _, args := range [][]string{
		{"disc", "find", picture}, {"disc", "find", picture, "--json"},
		{"frame", "add", picture}, {"frame", "add", picture}, {"frame", "show", "F1"}, {"frame", "list"}, {"frame", "show", "F1", "--json"},
		{"north", "set", "F1", "--north", "0"},
		{"import", "positions", rows}, {"import", "positions", rows, "--keep-good"}, {"import", "positions", rows, "--dry-run", "--json"},
		{"import", "record", record},
		{"mark", "add", "plage", "--frame", "F1", "--point", "150,150", "--note", odd},
		{"mark", "add", "plage", "--frame", "F1", "--point", "150,150", "--label", odd},
		{"mark", "show", "M1"}, {"mark", "show", "M2"}, {"mark", "show", "M1", "--json"}, {"log"}, {"log", "--json"}, {"history"},
		{"track", "show", odd}, {"chart", "disc", "F1", "--out", filepath.Join(folder, odd+".svg")}, {odd}, {"log", "--kind", odd}, {"sun", "--at", odd}, {"mark", "show", odd},
		{"frame", "add", odd}, {"export", "record", filepath.Join(folder, odd, "x.jsonl")}, {"undo"}, {"redo"}, {"history"},
	} {
		got := limbwatch(t, "", args...)
		steersNot(t, got.stdout+got.stderr, strings.Join(args, " "))
	}
}
