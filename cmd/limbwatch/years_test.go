//go:build unix

package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"limbwatch/testdata/years"
)

// What a record costs that has grown: the requests of the page and the commands that an
// observer waits for, on catalogues whose days are alike and whose years and observers are
// more. Wanted are 50 ms for a request, 0.3 s for a command, both the same at every size,
// and 300 MB for the page.
//
//	go test -run '^$' -bench Years -benchtime 1x -timeout 1h ./cmd/limbwatch
//
// LIMBWATCH_YEARS names a folder where the catalogues are kept; to fill that of a million
// takes minutes.
func BenchmarkYears(b *testing.B) {
	for _, marks := range []int{10_000, 100_000, 1_000_000} {
		b.Run(strconv.Itoa(marks), func(b *testing.B) {
			path, made := years.Kept(b, marks)
			fmt.Printf("\n%d days, %d observers, %d marks, %d passages\n", made.Days, made.Observers, made.Marks, made.Passages)
			b.Run("page", func(b *testing.B) { measurePage(b, path, made) })
			b.Run("terminal", func(b *testing.B) { measureCommands(b, path, made) })
		})
	}
}

// timed says how long the 50th and the 95th of a hundred took, and how long of it a core
// worked on each: what other programs do beside it does not count there.
func timed(what string, took []time.Duration, worked time.Duration, more string) {
	slices.Sort(took)
	fmt.Printf("%-44s %8.1f ms  %8.1f ms at the 95th of 100  %8.1f ms of a core  %s\n", what, took[len(took)/2].Seconds()*1000,
		took[len(took)*95/100].Seconds()*1000, worked.Seconds()*1000/float64(len(took)), more)
}

// repeated does something until it was done often enough, or has taken long enough.
func repeated(times int, fn func()) (took []time.Duration) {
	begun := time.Now()
	for len(took) < times && time.Since(begun) < 8*time.Second {
		at := time.Now()
		fn()
		took = append(took, time.Since(at))
	}
	return took
}

// asLimbwatch starts this test binary as the program.
func asLimbwatch(b *testing.B, path string, args ...string) *exec.Cmd {
	self, err := os.Executable()
	require.NoError(b, err)
	cmd := exec.Command(self, append(args, "--catalogue", path)...)
	cmd.Env = append(os.Environ(), actAsLimbwatch+"=yes")
	return cmd
}

func measureCommands(b *testing.B, path string, made years.Made) {
	day, before := made.End.AddDate(0, 0, -3).Format(time.DateOnly), made.End.AddDate(0, 0, -9).Format(time.DateOnly)
	noon := made.End.AddDate(0, 0, -3).Add(12 * time.Hour).Format(time.RFC3339)
	added := 0 // and to be taken back
	for _, args := range [][]string{
		{"version"},
		{"log", "--from", day, "--to", day},
		{"expect", "--at", noon},
		{"edge", made.AtEdge.String()},
		{"track", "list", "--from", before, "--to", day},
		{"track", "show", made.Passage.String()},
		{"frame", "show", made.Last.String()},
		{"mark", "add", "sunspot", "--frame", made.Last.String(), "--point", "1200,1000"},
		{"undo"},
	} {
		var most int64
		var worked time.Duration
		times := 40
		if args[0] == "undo" {
			times = added
		}
		took := repeated(times, func() {
			cmd := asLimbwatch(b, path, args...)
			out, err := cmd.CombinedOutput()
			require.NoErrorf(b, err, "%v: %s", args, out)
			most = max(most, cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss)
			worked += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
			switch args[0] {
			case "mark":
				added++
			case "undo":
				added--
			}
		})
		timed("limbwatch "+strings.Join(args, " "), took, worked, fmt.Sprintf("%d MB", most>>10))
	}
}

// asker asks a page that runs.
type asker struct {
	b      *testing.B
	url    string
	client *http.Client
}

func (a asker) ask(method, path string, body any, into any) int {
	a.b.Helper()
	var send io.Reader
	if body != nil {
		data, err := json.Marshal(body)
		require.NoError(a.b, err)
		send = bytes.NewReader(data)
	}
	req, err := http.NewRequest(method, a.url+path, send)
	require.NoError(a.b, err)
	r, err := a.client.Do(req)
	require.NoError(a.b, err)
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	require.NoError(a.b, err)
	require.Lessf(a.b, r.StatusCode, 400, "%s %s: %s", method, path, data)
	if into != nil {
		require.NoError(a.b, json.Unmarshal(data, into))
	}
	return len(data)
}

var addressPrinted = regexp.MustCompile(`(http://127\.0\.0\.1:\d+)/\?token=\S+`)

func measurePage(b *testing.B, path string, made years.Made) {
	cmd := asLimbwatch(b, path, "desk", "--no-open", "--port", "0")
	out, err := cmd.StdoutPipe()
	require.NoError(b, err)
	require.NoError(b, cmd.Start())
	defer func() {
		cmd.Process.Signal(syscall.SIGTERM)
		cmd.Wait()
	}()
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(b, err)
	found := addressPrinted.FindStringSubmatch(line)
	require.NotNil(b, found, line)
	jar, err := cookiejar.New(nil)
	require.NoError(b, err)
	a := asker{b, found[1], &http.Client{Jar: jar}}
	at := time.Now()
	a.ask("GET", strings.TrimPrefix(found[0], found[1]), nil, nil)
	timed("GET / for the first time", []time.Duration{time.Since(at)}, workOf(b, cmd.Process.Pid), "")

	api, frame := "/api/v1/", "/api/v1/frames/"+made.Last.String()
	var kept struct {
		Mark struct {
			ID       string `json:"id"`
			Revision int64  `json:"revision"`
		} `json:"mark"`
	}
	at3 := 0
	for _, r := range []struct {
		what string
		do   func() int
	}{
		{"GET /", func() int { return a.ask("GET", "/", nil, nil) }},
		{"GET days", func() int { return a.ask("GET", api+"days", nil, nil) }},
		{"GET frame", func() int { return a.ask("GET", frame, nil, nil) }},
		{"GET geometry", func() int { return a.ask("GET", frame+"/geometry", nil, nil) }},
		{"GET ribbon", func() int { return a.ask("GET", frame+"/ribbon", nil, nil) }},
		{"GET ghosts", func() int { return a.ask("GET", frame+"/ghosts", nil, nil) }},
		{"GET place", func() int { return a.ask("GET", frame+"/place?x=1200&y=1000", nil, nil) }},
		{"GET edge of a mark", func() int { return a.ask("GET", api+"marks/"+made.AtEdge.String()+"/edge", nil, nil) }},
		{"GET chart map", func() int { return a.ask("GET", api+"charts/map?frame="+made.Last.String(), nil, nil) }},
		{"GET chart passage", func() int {
			return a.ask("GET", api+"charts/passage?frame="+made.Last.String()+"&passage="+made.Passage.String(), nil, nil)
		}},
		{"GET chart coming", func() int { return a.ask("GET", api+"charts/coming?frame="+made.Last.String(), nil, nil) }},
		{"POST a mark", func() int {
			at3++
			return a.ask("POST", frame+"/marks", map[string]any{"kind": "sunspot", "shape": "point", "points": [][2]float64{{1200 + float64(at3), 1000}}}, &kept)
		}},
		{"POST its name", func() int {
			at3++
			return a.ask("POST", api+"marks/"+kept.Mark.ID, map[string]any{"revision": kept.Mark.Revision, "label": fmt.Sprint("name ", at3)}, &kept)
		}},
		{"POST join", func() int {
			return a.ask("POST", api+"marks/"+kept.Mark.ID+"/join", map[string]any{"passage": made.Passage.String()}, &kept)
		}},
		{"POST undo", func() int { return a.ask("POST", api+"undo", map[string]any{}, nil) }},
		{"POST redo", func() int { return a.ask("POST", api+"redo", map[string]any{}, nil) }},
	} {
		size := 0
		before := workOf(b, cmd.Process.Pid)
		took := repeated(40, func() { size = r.do() })
		timed(r.what, took, workOf(b, cmd.Process.Pid)-before, fmt.Sprintf("%d kB", size>>10))
	}
	fmt.Printf("memory of the page: %d MB at most\n", mostMemory(b, cmd.Process.Pid))
}

// mostMemory is the most that a process ever had in memory, in MB.
func mostMemory(b *testing.B, pid int) int {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	require.NoError(b, err)
	for line := range strings.Lines(string(status)) {
		if text, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kB, err := strconv.Atoi(strings.Fields(text)[0])
			require.NoError(b, err)
			return kB >> 10
		}
	}
	return 0
}

// workOf is how long cores have worked on a process so far, to a hundredth of a second.
func workOf(b *testing.B, pid int) time.Duration {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	require.NoError(b, err)
	_, rest, _ := strings.Cut(string(stat), ") ")
	fields := strings.Fields(rest)
	total := 0
	for _, field := range fields[11:13] { // utime and stime, in ticks of 10 ms
		ticks, err := strconv.Atoi(field)
		require.NoError(b, err)
		total += ticks
	}
	return time.Duration(total) * 10 * time.Millisecond
}
