//go:build unix

package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/exchange"
	"limbwatch/coords"
	"limbwatch/testdata"
)

// writing are the commands that write something, as lines about the catalogue of
// someOfEverything. One that reads standard input gets the file behind "<".
var writing = []string{
	"observer add Q", "observer edit O2 --note x", "observer remove O3",
	"site add Q --lat 1 --lon 2 --zone UTC", "site edit L1 --lon -2.131", "site remove L3",
	"instrument add Q --aperture 60 --focal 400 --setup q --passband 0.7 --stacked 1 --pixel 4.8",
	"instrument edit U1 --passband 0.5", "instrument remove U2",
	"sitting add 2026-03-21", "sitting edit S1 --clock -38", "sitting remove S2",
	"frame add third.png --role surface --at 2026-03-16T15:23:10Z", "frame edit F1 --at 2026-03-14T15:24:10Z",
	"frame remove F2", "frame settle F2 --why looked",
	"disc accept F1", "disc fit F2", "disc set F1 --circle 283,256,205 --sigma-px 0.4", "disc remove F1",
	"north set F1 --north 12.5 --sigma-north-deg 0.3", "north set F1 --flip", "north remove F1",
	"north solve F1 --known M1=S04W04 --known M3=N12E14",
	"mark add sunspot --frame F1 --point 310,250", "mark add sunspot --at 2026-03-14T15:23:10Z --place N08E14",
	"mark edit M1 --point 301,251", "mark edit M4-M13 --note all", "mark remove M1", "mark remove M14-M16",
	"track follow", "track join 2026-fil-2 M3", "track note 2026-fil-2 words", "track refuse M13",
	"track rename 2026-fil-2 long", "track returns 2026-fil-2 2026-fil-4 --accept", "track split 2026-fil-2 M13",
	"undo", "redo", "log day 2026-03-14 --groups N2,S1 --spots N11,S3",
	"import positions again.csv", "import record record.jsonl", "place --rejects rejects.csv < polar.csv",
	"export marks out.csv", "export record out.jsonl", "log report --month 2026-03 --out reports",
	"chart map --out map.svg", "chart disc F1 --out disc.png", "chart latitudes --out latitudes.svg",
	"chart numbers --out numbers.png", "chart passage 2026-fil-2 --out passage.svg",
	"chart rates --out rates.svg", "chart coming --at 2026-04-30T12:00:00Z --out coming.svg",
	"catalogue backup backups", "catalogue restore earlier.db",
}

// writingOfDays write too, as lines about the catalogue of orientedDays.
var writingOfDays = []string{
	"north match F2 --from F1", "north rotation F1 F2 --same-roll", "instrument limb --drift F3,F4",
	"edge M3 --accept 2026-fil-1",
}

// writingAnew makes all that it works on, which takes long: it is killed last.
const writingAnew = "demo --folder demo"

// killedElsewhere is killed by a test of its own.
var killedElsewhere = []string{"desk"} // TestAKilledPageKeepsWhatItSaidWasKept

// looking only read.
var looking = []string{"sun", "disc find", "expect", "history", "log", "mark list", "mark show", "frame list", "frame show",
	"observer list", "site list", "instrument list", "sitting list", "track list", "track show", "track rates",
	"catalogue check", "version", "help", "completion"}

// No command that writes is left alive, nor one that comes later.
func TestEveryCommandThatWritesIsKilled(t *testing.T) {
	root, all := everyCommand(t)
	dies := map[*cobra.Command]bool{}
	for _, line := range slices.Concat(writing, writingOfDays, []string{writingAnew}, killedElsewhere) {
		cmd, _, err := root.Find(strings.Fields(line))
		require.NoError(t, err, line)
		dies[cmd] = true
	}
	for _, cmd := range all {
		if !cmd.HasParent() || cmd.HasSubCommands() && !cmd.HasExample() {
			continue // it has no work of its own
		}
		name := strings.TrimPrefix(strings.TrimPrefix(cmd.CommandPath(), "limbwatch"), " ")
		reads := slices.Contains(looking, name) || strings.HasPrefix(name, "completion ")
		assert.True(t, dies[cmd] != reads, "limbwatch %s: killed: %t, only reads: %t", name, dies[cmd], reads)
	}
}

// someOfEverything makes a folder with a catalogue that has some of everything, and files
// for the commands of writing.
func someOfEverything(t *testing.T) (folder string) {
	t.Helper()
	folder = newCatalogue(t)
	t.Chdir(folder)
	picture, _ := ordinary(t, folder)
	content, err := os.ReadFile(picture)
	require.NoError(t, err)
	for i, name := range []string{"second.png", "third.png"} { // other files, of the same picture
		require.NoError(t, os.WriteFile(name, append(slices.Clone(content), make([]byte, i+1)...), 0o644))
	}
	rows := func(file string, lines ...string) {
		require.NoError(t, os.WriteFile(file, []byte("kind,utc,lat_deg,lon_deg\n"+strings.Join(lines, "\n")+"\n"), 0o644))
	}
	var filaments, later []string
	for day := 1; day <= 5; day++ {
		filaments = append(filaments, fmt.Sprintf("filament,2026-04-0%dT12:00:00Z,20,100", day))
	}
	for day := 1; day <= 5; day++ {
		filaments = append(filaments, fmt.Sprintf("filament,2026-04-0%dT12:00:00Z,-30,140", day))
	}
	for day := 27; day <= 30; day++ {
		filaments = append(filaments, fmt.Sprintf("filament,2026-04-%dT12:00:00Z,20,100", day))
	}
	for day := 10; day < 40; day++ {
		later = append(later, fmt.Sprintf("plage,2025-04-10T12:%d:00Z,%d,100", day, day))
	}
	rows("rows.csv", filaments...)
	rows("again.csv", later...)
	require.NoError(t, os.WriteFile("polar.csv", []byte("utc,pa_deg,r\n2026-03-14T12:00:00Z,70,0.5\n2026-03-14T12:00:00Z,no angle,0.5\n"), 0o644))
	for _, line := range []string{
		"observer add Wren", "observer add Vane", "observer add Third",
		"site add Garden --lat 50.91 --lon -2.13 --zone Europe/London", "site add Yard --lat 50 --lon 14 --zone Europe/Prague", "site add Third --lat 5 --lon 4 --zone UTC",
		"instrument add Sixty --aperture 60 --focal 400 --setup single --passband 0.7 --stacked 1 --pixel 4.8",
		"instrument add Other --aperture 60 --focal 400 --setup double --passband 0.7 --stacked 2 --pixel 4.8",
		"frame add " + filepath.Base(picture) + " --role surface", "north set F1 --north 12.4 --sigma-north-deg 0.3",
		"sitting add 2026-03-20 --observer Vane --site Yard",
		"frame add second.png --role surface --at 2026-03-15T01:23:10Z", "disc set F2 --circle 280,250,200 --sigma-px 3",
		"mark add sunspot --frame F1 --point 300,250", "mark add plage --frame F1 --point 320,230", "mark add filament --frame F1 --point 250,180",
		"import positions rows.csv", "track follow --to 2026-04-20",
	} {
		done(t, strings.Fields(line)...)
	}
	done(t, "catalogue", "backup", "kept")
	kept, err := filepath.Glob("kept/*.db")
	require.NoError(t, err)
	require.Len(t, kept, 1)
	require.NoError(t, os.Rename(kept[0], "earlier.db"))
	other := filepath.Join(t.TempDir(), "other.db")
	done(t, "mark", "add", "plage", "--at", "2026-03-14T15:23:10Z", "--place", "N08E14", "--catalogue", other)
	done(t, "export", "record", "record.jsonl", "--catalogue", other)
	for _, line := range []string{"track follow --to 2026-04-28", "mark add plage --at 2026-03-14T15:23:10Z --place S20E40", "mark add plage --at 2026-03-14T15:23:10Z --place N09E14", "undo"} {
		done(t, strings.Fields(line)...)
	}
	return folder
}

// orientedDays makes a folder with a catalogue of two days under one roll, the first of
// them oriented, a drift of the Sun, and a prominence at the edge beside a filament.
func orientedDays(t *testing.T) (folder string) {
	t.Helper()
	turningDays(t, "killed", []coords.North{upright(77), upright(77)})
	const radiusPx, arcsecPerPx = 478.6, 2.0 // the Sun of that day, with a limb 3 Mm up
	start := time.Date(2026, 9, 10, 12, 0, 0, 0, time.UTC)
	for i := range 2 {
		at := start.Add(time.Duration(i) * time.Minute)
		done(t, "mark", "add", "sunspot", "--at", at.Format(time.RFC3339), "--place", "N08E14")
		x := 600 + float64(i)*60*15*0.996/arcsecPerPx // cos δ
		done(t, "disc", "set", fmt.Sprintf("F%d", 3+i), "--circle", fmt.Sprintf("%.2f,500,%.2f", x, radiusPx), "--sigma-px", "0.05")
	}
	for _, line := range []string{
		"north set F1 --north 77 --sigma-north-deg 0.3",
		"mark add prominence --at 2026-09-08T09:00:00Z --pa 74 --r 1.035",
		"mark add filament --at 2026-09-09T09:00:00Z --place N30E60",
		"track follow",
	} {
		done(t, strings.Fields(line)...)
	}
	return filepath.Dir(os.Getenv("LIMBWATCH_CATALOG"))
}

// killable is a catalogue of its own for one command that is killed.
type killable struct {
	folder         string
	said, complain bytes.Buffer
}

// begin copies the folder and starts a command there.
func (k *killable) begin(t *testing.T, from, line string) *exec.Cmd {
	t.Helper()
	k.folder = filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(k.folder, os.DirFS(from)))
	line, input, _ := strings.Cut(line, " < ")
	cmd := program(strings.Fields(line)...)
	if input != "" {
		text, err := os.ReadFile(filepath.Join(from, input))
		require.NoError(t, err)
		cmd.Stdin = bytes.NewReader(text)
	}
	cmd.Dir = k.folder
	cmd.Env = append(cmd.Env, "LIMBWATCH_CATALOG="+k.catalogue())
	cmd.Stdout, cmd.Stderr = &k.said, &k.complain
	return cmd
}

func (k *killable) catalogue() string { return filepath.Join(k.folder, "catalogue.db") }

// operations counts what stands in the history.
func operations(t *testing.T, catalogue string) int {
	t.Helper()
	return len(asJSON[[]object](t, "history", "--limit", "10000", "--catalogue", catalogue))
}

// killed kills a command at some instant of the time that it takes, or, every other time,
// soon after it began to write: its log grew, or another file came. It says whether it met
// it alive.
func killed(t *testing.T, cmd *exec.Cmd, k *killable, r *rand.Rand, takes time.Duration) bool {
	t.Helper()
	written := func() (n int64) {
		filepath.WalkDir(k.folder, func(path string, d os.DirEntry, err error) error {
			if info, e := os.Stat(path); err == nil && e == nil && !strings.HasSuffix(path, "-shm") {
				n += 1 + info.Size()
			}
			return nil
		})
		return n
	}
	before := written()
	require.NoError(t, cmd.Start())
	wait := time.Duration(r.Float64() * float64(takes))
	if r.IntN(2) == 0 {
		for end := time.Now().Add(takes); written() == before && time.Now().Before(end); {
			time.Sleep(200 * time.Microsecond)
		}
		wait = time.Duration(r.IntN(15_000)) * time.Microsecond
	}
	time.Sleep(wait)
	require.NoError(t, cmd.Process.Kill())
	return cmd.Wait() != nil
}

// Every command that writes is killed, at any instant. Afterwards the catalogue is sound,
// the change is there wholly or not at all, and there when it was said to be; what has the
// name of a file is that file, whole. LIMBWATCH_LONG says how many are killed.
func TestKilledCommandsLoseNothingThatWasSaid(t *testing.T) {
	kills := max(10, testdata.Kills())
	t.Setenv(backupsVariable, noBackups)
	everything := someOfEverything(t)
	stands := func(folder string) int { return operations(t, filepath.Join(folder, "catalogue.db")) }
	require.Less(t, operations(t, copied(t, filepath.Join(everything, "earlier.db"))), stands(everything))
	folders := []string{everything, orientedDays(t)}
	stood := map[string]int{folders[0]: stands(folders[0]), folders[1]: stands(folders[1])}
	seed := uint64(time.Now().UnixNano())
	r := rand.New(rand.NewPCG(seed, 11))
	lines := slices.Concat(writing, writingOfDays)
	r.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
	lines = append(lines, writingAnew)
	alive, kept := 0, 0
	type whole struct {
		takes  time.Duration
		change int
		files  map[string]bool
	}
	ended := map[string]whole{}
	for i := range kills {
		line := lines[i%len(lines)]
		from := everything
		if slices.Contains(writingOfDays, line) {
			from = folders[1]
		}
		about := fmt.Sprintf("kill %d, seed %d: limbwatch %s", i, seed, line)
		w, known := ended[line]
		if !known { // once in peace: what it does, and how long it takes
			var k killable
			cmd := k.begin(t, from, line)
			begun := time.Now()
			require.NoError(t, cmd.Run(), "%s: %s", about, &k.complain)
			w = whole{time.Since(begun), operations(t, k.catalogue()) - stood[from], wholeFiles(t, about, k.folder)}
			if after := newFiles(t, from, w.files); w.change == 0 && len(after) == 0 {
				require.Fail(t, "it writes nothing", about)
			}
			ended[line] = w
		}
		var k killable
		cmd := k.begin(t, from, line)
		if killed(t, cmd, &k, r, w.takes) {
			alive++
		}
		require.Equal(t, true, asJSON[object](t, "catalogue", "check", "--catalogue", k.catalogue())["sound"], about)
		change := operations(t, k.catalogue()) - stood[from]
		require.Contains(t, []int{0, w.change}, change, about)
		if change == w.change && change != 0 {
			kept++
		}
		if k.said.Len() > 0 && strings.HasPrefix(line, "catalogue restore") {
			continue // it tells first what would differ
		}
		if k.said.Len() > 0 {
			require.Equal(t, w.change, change, "%s: said, and not kept: %s", about, k.said.String())
		}
		for name := range wholeFiles(t, about, k.folder) {
			require.True(t, w.files[name] || strings.Contains(name, "backups/"), "%s: what is %s?", about, name)
		}
	}
	t.Logf("%d of %d killed in the middle; %d of all had kept their change, none half; seed %d", alive, kills, kept, seed)
}

// newFiles are those that were not there before.
func newFiles(t *testing.T, from string, files map[string]bool) (list []string) {
	t.Helper()
	for name := range files {
		if _, err := os.Stat(filepath.Join(from, name)); err != nil {
			list = append(list, name)
		}
	}
	return list
}

// wholeFiles lists the files of a folder by their names, and looks whether each is whole.
// What killed programs leave has no name that anybody would take for a file's.
func wholeFiles(t *testing.T, about, folder string) map[string]bool {
	t.Helper()
	files := map[string]bool{}
	require.NoError(t, filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".limbwatch-") {
			return err
		}
		name, err := filepath.Rel(folder, path)
		require.NoError(t, err)
		if strings.HasPrefix(name, "catalogue.db") && !strings.Contains(name, "backups") {
			if regexp.MustCompile(`\.replaced-[^-]*-[^-]*-[^-]*Z(-\d+)?$`).MatchString(name) {
				sound(t, about, path)
			}
			return nil // the catalogue and its companions
		}
		if strings.HasPrefix(name, filepath.Join("demo", "catalogue.db")) {
			if filepath.Ext(name) == ".db" { // with what stands in its log
				require.Equal(t, true, asJSON[object](t, "catalogue", "check", "--catalogue", path)["sound"], about)
			}
			return nil
		}
		files[name] = true
		content, err := os.ReadFile(path)
		require.NoError(t, err)
		switch filepath.Ext(name) {
		case ".svg":
			require.True(t, bytes.HasSuffix(bytes.TrimSpace(content), []byte("</svg>")), "%s: half of %s", about, name)
		case ".png":
			require.Contains(t, string(content), "IEND", "%s: half of %s", about, name)
		case ".pdf":
			require.True(t, bytes.HasSuffix(bytes.TrimSpace(content), []byte("%%EOF")), "%s: half of %s", about, name)
		case ".jsonl":
			_, _, err := exchange.Read(bytes.NewReader(content))
			require.NoError(t, err, "%s: half of %s", about, name)
		case ".db":
			sound(t, about, path)
		default:
			require.True(t, bytes.HasSuffix(content, []byte("\n")), "%s: half of %s", about, name)
		}
		return nil
	}))
	return files
}

func sound(t *testing.T, about, path string) {
	t.Helper()
	require.Equal(t, true, asJSON[object](t, "catalogue", "check", "--catalogue", copied(t, path))["sound"], "%s: %s is not whole", about, path)
}

func copied(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	to := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, os.WriteFile(to, data, 0o644))
	return to
}
