package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What the libraries that read the command line complain of is said in this program's own
// words, with the flags as they are typed.
func TestComplaintsAreInPlainWords(t *testing.T) {
	for says, line := range map[string]string{
		`--lat "50N": want a number of degrees`:                      "site add X --lat 50N --lon 2",
		`--lat "50,9": want a number, with a point for the decimals`: "site add X --lat 50,9 --lon 2",
		`--lon: not given`:                                                  "site add X --lat 50",
		`--rotation "2308.5": want a whole number`:                          "chart map --rotation 2308.5 --out m.svg",
		`--flip and --last at once: give one of them`:                       "north set F1 --last --flip",
		`--csv, --json and --tsv at once: give one of them`:                 "log --csv --json --tsv",
		`--site-lat and --site-lon go together: --site-lon not given`:       "expect --site-lat 5",
		`want --frame or --at`:                                              "mark add sunspot --point 5,5",
		`--width 10: want 320 to 4000 pixels`:                               "chart rates --width 10 --out r.svg",
		`--from "05.03.2026": want a day, as 2026-03-14`:                    "log --from 05.03.2026",
		`--height goes with --at: a mark has its own figures`:               "edge M1 --height 40",
		`nothing to undo: no change made from the terminal stands any more`: "undo",
		`nothing to redo`:                                                   "redo",
		`no mark M7`:                                                        "track refuse M7",
		`M1 has two places`:                                                 "north solve F1 --known M1=N08E14 --known M1=N09E14",
	} {
		emptyCatalogue(t)
		if strings.HasPrefix(line, "north solve") {
			done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14")
		}
		got := limbwatch(t, "", strings.Fields(line)...)
		assert.NotEqual(t, exitDone, got.code, line)
		assert.Contains(t, got.stderr, says, line)
		assert.NotContains(t, got.stderr, "strconv", line)
		if strings.HasPrefix(says, "--") {
			assert.Equal(t, exitMisused, got.code, line)
		}
	}
}

func TestFlagsAreExplainedInAnObserversWords(t *testing.T) {
	_, all := everyCommand(t)
	programmers := regexp.MustCompile(`(?m)^ +(-\w, )?--[a-z-]+ (string|strings|int|ints|float|float64|duration) `)
	for _, cmd := range all {
		if ours(cmd) {
			assert.Emptyf(t, programmers.FindAllString(cmd.LocalFlags().FlagUsages(), -1), "%s", cmd.CommandPath())
		}
	}
}

func TestANameThatIsTakenIsNamed(t *testing.T) {
	newCatalogue(t)
	done(t, "observer", "add", "Wren Holloway")
	done(t, "observer", "add", "Rook Ellery")
	done(t, "site", "add", "Pell Garden", "--lat", "50", "--lon", "-2")
	done(t, "instrument", "add", "Garden 60", "--setup", "single")
	for says, args := range map[string][]string{
		`there is an observer "Wren Holloway" already`:    {"observer", "add", "Wren Holloway"},
		`there is an observer "Rook Ellery" already`:      {"observer", "edit", "O1", "--name", "Rook Ellery"},
		`there is a site "Pell Garden" already`:           {"site", "add", "Pell Garden", "--lat", "5", "--lon", "-2"},
		`there is a set-up of Garden 60 "single" already`: {"instrument", "add", "Garden 60", "--setup", "single"},
	} {
		got := refused(t, exitFailed, says, args...)
		assert.Contains(t, got.stderr, "list shows what is there")
	}
}

func TestWhatLiesFarInTheFutureIsTold(t *testing.T) {
	newCatalogue(t)
	for _, args := range [][]string{
		{"mark", "add", "sunspot", "--at", "2126-03-01T09:13:00Z", "--place", "N08E14"},
		{"sitting", "add", "2126-03-01"},
		{"log", "day", "2126-03-02", "--groups", "N2"},
	} {
		got := limbwatch(t, "", args...)
		require.Equal(t, exitDone, got.code, got.stderr)
		assert.Regexp(t, `note: \S+.* is of 2126-03-0\d, which lies in the future`, got.stderr)
	}
	assert.NotContains(t, limbwatch(t, "", "log", "day", "2003-03-02", "--groups", "N2").stderr, "future")
}

func TestAcceptingAtTheEdgeIsTold(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "prominence", "--at", slipAt, "--pa", "74", "--r", "1.035")
	done(t, "track", "follow")
	name := asJSON[[]object](t, "track", "list")[0].text(t, "passage")
	assert.Contains(t, done(t, "edge", "M1", "--accept", name), "M1 is joined to "+name+" by your word")
}

// What radii counted in before they still count in when they are put right.
func TestALimbThatWasNamedStaysWhenRadiiArePutRight(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "prominence", "--at", slipAt, "--pa", "74", "--r", "1.035", "--limb", "chromosphere")
	before := asJSON[object](t, "mark", "show", "M1").number(t, "height_km")
	done(t, "mark", "edit", "M1", "--pa", "75", "--r", "1.035")
	assert.InDelta(t, before, asJSON[object](t, "mark", "show", "M1").number(t, "height_km"), 1e-3)
	done(t, "mark", "edit", "M1", "--pa", "75", "--r", "1.035", "--limb", "photosphere")
	assert.Less(t, asJSON[object](t, "mark", "show", "M1").number(t, "height_km"), before-4000, "4.35 Mm lower")
}

func TestAListOfPlacesThatIsNone(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14")
	file := folder + "/list.csv"
	for text, says := range map[string]string{"": "it is empty", "a,b\n1,2,3\n": "wrong number of fields"} {
		require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
		got := refused(t, exitFailed, "is no list of places", "north", "solve", "F1", "--list", file)
		assert.Contains(t, got.stderr, says)
		assert.Contains(t, got.stderr, "hint: it is a CSV file with the columns")
	}
}

func TestADriftIsOneRun(t *testing.T) {
	newCatalogue(t)
	at := time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)
	for i, x := range []string{"400", "401"} {
		done(t, "mark", "add", "sunspot", "--at", formatUTC(at.AddDate(0, 0, i)), "--place", "N08E14")
		done(t, "disc", "set", "F"+string(rune('1'+i)), "--circle", x+",400,300")
	}
	refused(t, exitFailed, "frames F1 and F2 are 24.0 hours apart: a drift is one run", "north", "solve", "F2", "--drift", "F1,F2", "--not-mirrored")
}

// What somebody wrote, perhaps in another catalogue, breaks no line and steers no terminal.
func TestWrittenWordsStayOnTheirLine(t *testing.T) {
	newCatalogue(t)
	done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14", "--note", "a\nb red \x1b[31m text")
	refused(t, exitMisused, `label "a\nb" has the control character U+000A in it`, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14", "--label", "a\nb")
	text := done(t, "mark", "show", "M1")
	assert.Contains(t, text, "a b red")
	assert.NotContains(t, text, "\x1b")
	assert.Equal(t, "a\nb red \x1b[31m text", asJSON[[]object](t, "log")[0].text(t, "note"), "what is kept is what was written")
}

func TestRowsImportedAgainAreTold(t *testing.T) {
	folder := newCatalogue(t)
	file := folder + "/spots.csv"
	require.NoError(t, os.WriteFile(file, []byte("kind,utc,lat_deg,lon_deg\nsunspot,"+slipAt+",8,30\n"), 0o644))
	assert.NotContains(t, limbwatch(t, "", "import", "positions", file).stderr, "already")
	got := limbwatch(t, "", "import", "positions", file)
	assert.Contains(t, got.stderr, "note: in the catalogue already: 1 row (line 2: M1), not kept again")
	assert.Contains(t, got.stdout, "1 row, none kept")
	twice := limbwatch(t, "", "import", "positions", file, "--again")
	assert.Contains(t, twice.stderr, "limbwatch undo takes the import back")
	assert.Len(t, asJSON[[]object](t, "log"), 2)
	done(t, "undo")
	assert.InDelta(t, 1, asJSON[object](t, "import", "positions", file, "--dry-run").number(t, "rows_there_already"), 0)
	assert.Equal(t, "undone: import positions spots.csv: 1 mark\n", done(t, "undo"))
}

func TestATelescopeAndItsSetupAreChangedAtOnce(t *testing.T) {
	newCatalogue(t)
	done(t, "instrument", "add", "Garden 60", "--setup", "single", "--aperture", "60")
	done(t, "instrument", "add", "Garden 60", "--setup", "double")
	refused(t, exitFailed, `there is a telescope or set-up "Garden 60/double" already`, "instrument", "edit", "U1", "--aperture", "70", "--setup-name", "double")
	row := func() object { return asJSON[[]object](t, "instrument", "list")[1] }
	require.Equal(t, "single", row().text(t, "setup_name"))
	assert.InDelta(t, 60, row().number(t, "aperture_mm"), 0, "nothing of it was kept")
	done(t, "instrument", "edit", "U1", "--aperture", "70", "--passband", "0.5")
	done(t, "undo")
	assert.InDelta(t, 60, row().number(t, "aperture_mm"), 0, "one undo")
	assert.Nil(t, row()["passband_angstrom"])
}

func TestASlipInTheNumberOfAMarkIsTold(t *testing.T) {
	newCatalogue(t)
	// A spot that turns as spots do, 13.2° a day against the Earth, and one elsewhere.
	for _, c := range [][2]string{{"2026-03-14T12:00:00Z", "N10E20"}, {"2026-03-16T12:00:00Z", "N10W06"}, {"2026-03-16T12:00:00Z", "N10W46"}} {
		done(t, "mark", "add", "sunspot", "--at", c[0], "--place", c[1], "--sigma-deg", "0.5")
	}
	done(t, "track", "join", "--new", "M1")
	name := asJSON[[]object](t, "track", "list")[0].text(t, "passage")
	got := limbwatch(t, "", "track", "join", name, "M2")
	require.Equal(t, exitDone, got.code)
	assert.Empty(t, got.stderr)
	got = limbwatch(t, "", "track", "join", name, "M3")
	require.Equal(t, exitDone, got.code, "the observer's word stands")
	assert.Regexp(t, `note: M3 stands (38|39|40)° from where the others of `+name+` were then`, got.stderr)
}

func TestASecondSittingOfADayIsTold(t *testing.T) {
	newCatalogue(t)
	done(t, "sitting", "add", "2003-03-14")
	assert.Contains(t, limbwatch(t, "", "sitting", "add", "2003-03-14").stderr, "note: S1 is a sitting of that day")
	assert.Empty(t, limbwatch(t, "", "sitting", "add", "2003-03-15").stderr)
}

// A club knows its observers by their codes.
func TestAnObserverIsKnownByCode(t *testing.T) {
	newCatalogue(t)
	done(t, "observer", "add", "Wren Holloway", "--code", "WH")
	done(t, "observer", "add", "Rook Ellery", "--code", "RE")
	done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14", "--observer", "re")
	assert.Contains(t, done(t, "sitting", "list"), "Rook Ellery")
	done(t, "observer", "edit", "WH", "--code", "RE")
	refused(t, exitFailed, `no observer "RE"`, "observer", "edit", "RE", "--note", "which of the two")
}

func TestAnImportThatWasUndoneIsToldOf(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14")
	record := folder + "/record.jsonl"
	done(t, "export", "record", record)
	newCatalogue(t)
	done(t, "import", "record", record)
	done(t, "undo")
	got := refused(t, exitFailed, "was removed here", "import", "record", record)
	assert.Contains(t, got.stderr, "hint: what was removed here stays so with mine; if it came with an import that was undone, limbwatch redo brings that back")
	done(t, "redo")
	assert.Len(t, asJSON[[]object](t, "log"), 1)
}

// A dry run ends as the import would.
func TestADryRunOfAContradictionFails(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14", "--label", "theirs")
	record := folder + "/record.jsonl"
	done(t, "export", "record", record)
	done(t, "import", "record", record, "--dry-run")
	done(t, "mark", "edit", "M1", "--label", "mine")
	got := refused(t, exitFailed, "one thing of the record stands here otherwise: nothing would be kept", "import", "record", record, "--dry-run")
	assert.Contains(t, got.stderr, "label is mine here and theirs there")
	done(t, "import", "record", record, "--dry-run", "--prefer", "theirs")
}

// A record that was cut is refused with what it lacks, and its part is taken when asked
// for; an older one is taken with a word.
func TestARecordThatIsNotWholeIsToldOf(t *testing.T) {
	folder := newCatalogue(t)
	for range 3 {
		done(t, "mark", "add", "sunspot", "--at", slipAt, "--place", "N08E14", "--force")
	}
	record, cut, old := folder+"/record.jsonl", folder+"/cut.jsonl", folder+"/old.jsonl"
	done(t, "export", "record", record)
	content, err := os.ReadFile(record)
	require.NoError(t, err)
	lines := strings.SplitAfter(strings.TrimSpace(string(content)), "\n")
	require.NoError(t, os.WriteFile(cut, []byte(strings.Join(lines[:len(lines)-2], "")), 0o644))
	require.NoError(t, os.WriteFile(old, []byte(strings.Replace(strings.Join(lines[:len(lines)-1], ""), `"version":4`, `"version":2`, 1)), 0o644))
	newCatalogue(t)
	got := refused(t, exitFailed, "cut.jsonl: the record is not whole: its last line is missing; there are 2 of 3 marks", "import", "record", cut)
	assert.Contains(t, got.stderr, "hint: get the file once more from where it was written; --partial brings in what is there")
	assert.Equal(t, true, asJSON[object](t, "import", "record", record, "--dry-run")["whole"])
	read := asJSON[object](t, "import", "record", old, "--dry-run")
	assert.Nil(t, read["whole"])
	assert.Contains(t, read["about_whole"], "nothing tells whether the record is whole")
	assert.Contains(t, limbwatch(t, "", "import", "record", old, "--dry-run").stderr, "note: old.jsonl: nothing tells whether the record is whole")
	refused(t, exitFailed, "there is no catalogue yet", "log") // nothing was kept so far
	got = limbwatch(t, "", "import", "record", cut, "--partial")
	assert.Equal(t, exitDone, got.code)
	assert.Contains(t, got.stderr, "the record is not whole: its last line is missing; there are 2 of 3 marks")
	assert.Len(t, asJSON[[]object](t, "log"), 2)
}

func TestSlipsInFigures(t *testing.T) {
	newCatalogue(t)
	place := []string{"place", "--at", slipAt, "--disc", "500,500,400", "510,510"}
	refused(t, exitMisused, "--north 1000: want -360 to 360 degrees", append(place, "--north", "1000")...)
	refused(t, exitMisused, "height 9e+06: want 0 to 5000 Mm", append(place, "--north", "0", "--height", "9e6")...)
	refused(t, exitMisused, "the error more than 0", "instrument", "add", "Garden 60", "--surface-limb", "3,0")
	assert.Contains(t, refused(t, exitMisused, "is no command", "trak", "list").stderr, "did you mean track")
	assert.Contains(t, refused(t, exitMisused, "is no command", "track", "lst").stderr, "did you mean list")
	for _, day := range []string{"14", "16"} {
		done(t, "mark", "add", "sunspot", "--at", "2026-03-"+day+"T12:00:00Z", "--place", "N08E14")
	}
	for _, frame := range []string{"F1", "F2"} {
		done(t, "disc", "set", frame, "--circle", "400,400,300")
	}
	refused(t, exitFailed, "frame F2 is of sitting S2", "instrument", "limb", "--drift", "F1,F2")
}

// A list is read as CSV is (RFC 4180, 2.5 to 2.7), or refused in words of our own.
func TestANameWithACommaOrAQuotationMark(t *testing.T) {
	newCatalogue(t)
	done(t, "observer", "add", "R. Vane")
	done(t, "mark", "add", "sunspot", "--at", "2026-03-14T15:23:10Z", "--place", "N08E14", "--sigma-deg", "1",
		"--alias", `"big one, west"`, "--alias", `"the 13"" one",12345`)
	assert.Equal(t, []any{"big one, west", `the 13" one`, "12345"}, asJSON[object](t, "mark", "show", "M1")["aliases"])
	for _, alias := range []string{`the 13" one`, `"open`, `"a"b`, "a\nb"} {
		got := refused(t, exitMisused, "quotation marks", "mark", "edit", "M1", "--alias", alias)
		assert.NotContains(t, got.stderr, "parse error")
		assert.NotContains(t, got.stderr, "bare")
	}
	done(t, "mark", "edit", "M1", "--alias", `"a ""b"", c"`)
	assert.Equal(t, []any{`a "b", c`}, asJSON[object](t, "mark", "show", "M1")["aliases"])
	done(t, "mark", "edit", "M1", "--alias", "")
	assert.Empty(t, asJSON[object](t, "mark", "show", "M1")["aliases"])
}
