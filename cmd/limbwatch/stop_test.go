//go:build unix

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/exchange"
	"limbwatch/testdata"
)

// program is the program as a process of its own, over the test's catalogue.
func program(args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	// The race detector's second before the end of a program is none of its own.
	cmd.Env = append(os.Environ(), actAsLimbwatch+"=1", "GORACE=atexit_sleep_ms=0")
	return cmd
}

// The first Ctrl-C or SIGTERM ends a command within half a second, also one that waits
// for what never comes. Here it may take longer: the machine may have much to do.
func TestTheFirstSignalEndsEveryCommand(t *testing.T) {
	newCatalogue(t)
	done(t, "observer", "add", "R. Vane")
	for _, args := range [][]string{
		{"sun", "--times", "-"},
		{"import", "positions", "-"},
		{"import", "record", "-"},
		{"desk", "--no-open", "--port", "0"},
	} {
		for _, signal := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM} {
			cmd := program(args...)
			var stderr bytes.Buffer
			cmd.Stderr = &stderr
			stdin, err := cmd.StdinPipe()
			require.NoError(t, err)
			stdout, err := cmd.StdoutPipe()
			require.NoError(t, err)
			require.NoError(t, cmd.Start())
			if args[0] == "desk" { // it waits when it has told its address
				_, err = bufio.NewReader(stdout).ReadString('\n')
			} else { // it waits for more when it has read what no pipe holds
				_, err = io.WriteString(stdin, strings.Repeat("\n", 256<<10))
			}
			require.NoError(t, err)
			begun := time.Now()
			require.NoError(t, cmd.Process.Signal(signal))
			err = cmd.Wait()
			assert.Less(t, time.Since(begun), 3*time.Second, "%v to %v", signal, args)
			if args[0] != "desk" {
				assert.Error(t, err)
				assert.Contains(t, stderr.String(), "stopped before it was done")
			}
			stdin.Close()
		}
	}
}

// A backup, a check or a restoration that is stopped ends within half a second (here it may
// take longer), says so, and leaves nothing half done.
func TestStoppedBackupsAndChecksLeaveNothingHalf(t *testing.T) {
	folder := newCatalogue(t)
	manyMarks(t, folder, 6000)
	done(t, "catalogue", "backup", filepath.Join(folder, "earlier"))
	earlier, err := filepath.Glob(filepath.Join(folder, "earlier", "*.db"))
	require.NoError(t, err)
	require.Len(t, earlier, 1)
	done(t, "observer", "add", "Wren")
	backups := filepath.Join(folder, "backups")
	stopped := map[string]int{}
	for _, args := range [][]string{
		{"catalogue", "check"}, {"catalogue", "backup", backups}, {"catalogue", "restore", earlier[0]},
	} {
		begun := time.Now()
		require.NoError(t, program(append(args, "--help")...).Run())
		starts := time.Since(begun)
		for i := range 3 {
			cmd := program(args...)
			var stderr bytes.Buffer
			cmd.Stderr = &stderr
			require.NoError(t, cmd.Start())
			time.Sleep(starts + time.Duration(i)*50*time.Millisecond)
			begun := time.Now()
			require.NoError(t, cmd.Process.Signal(os.Interrupt))
			err := cmd.Wait()
			assert.Less(t, time.Since(begun), 3*time.Second, "%v", args)
			if err != nil && stderr.Len() > 0 { // else the signal came before the program listened, or after it ended
				assert.Contains(t, stderr.String(), "stopped before it was done", "%v", args)
				stopped[args[1]]++
			}
			assert.Equal(t, true, asJSON[object](t, "catalogue", "check")["sound"], "%v", args)
			wholeFiles(t, strings.Join(args, " "), folder)
			for _, at := range []string{folder, backups} {
				left, err := filepath.Glob(filepath.Join(at, ".limbwatch-*"))
				require.NoError(t, err)
				assert.Empty(t, left, "%v", args)
			}
			if len(asJSON[[]object](t, "observer", "list")) == 0 { // it was put back before the signal came
				done(t, "observer", "add", "Wren")
			}
		}
	}
	t.Log("stopped in the middle: ", stopped)
	assert.NotEmpty(t, stopped)
}

// manyMarks keeps so many marks, of as many days as there are.
func manyMarks(t *testing.T, folder string, marks int) {
	t.Helper()
	var table bytes.Buffer
	table.WriteString("kind,utc,lat_deg,lon_deg\n")
	for i := range marks {
		fmt.Fprintf(&table, "plage,2026-03-14T15:23:%02dZ,%d,%d\n", i%60, i%60, i%360)
	}
	rows := filepath.Join(folder, "rows.csv")
	require.NoError(t, os.WriteFile(rows, table.Bytes(), 0o644))
	done(t, "import", "positions", rows)
}

// An export that is killed, whenever, leaves the old file or the new one; what else it
// leaves goes with the next. In the long run a fourth of its kills are of exports.
func TestAKilledExportLeavesAWholeFile(t *testing.T) {
	folder := newCatalogue(t)
	const marks = 2000
	manyMarks(t, folder, marks)
	exports := filepath.Join(folder, "exports")
	require.NoError(t, os.Mkdir(exports, 0o755))
	out := filepath.Join(exports, "record.jsonl")
	begun := time.Now()
	require.NoError(t, program("export", "record", out).Run())
	usual := time.Since(begun)
	kills := 6 + testdata.Kills()/4
	killed := 0
	for range kills {
		cmd := program("export", "record", out, "--force")
		require.NoError(t, cmd.Start())
		time.Sleep(time.Duration((0.3 + 0.8*rand.Float64()) * float64(usual)))
		require.NoError(t, cmd.Process.Kill())
		if cmd.Wait() != nil {
			killed++
		}
		file, err := os.Open(out)
		require.NoError(t, err)
		r, _, err := exchange.Read(file)
		file.Close()
		require.NoError(t, err)
		require.Len(t, r.Marks, marks)
	}
	t.Logf("%d of %d were killed before they ended", killed, kills)
	done(t, "export", "record", out, "--force")
	entries, err := os.ReadDir(exports)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "what the killed ones left is gone")
}
