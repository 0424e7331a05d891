//go:build unix

package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog/exchange"
	"limbwatch/testdata"
)

// What the page answered as kept is in the catalogue once, however the page's server ends
// while more comes in; in the long run a fourth of its kills are of the page.
func TestAKilledPageKeepsWhatItSaidWasKept(t *testing.T) {
	folder := newCatalogue(t)
	done(t, "observer", "add", "R. Vane")
	picture, _ := ordinary(t, folder)
	done(t, "frame", "add", picture)
	done(t, "north", "set", "F1", "--north", "12.4", "--sigma-north-deg", "0.3")
	kills := 3 + testdata.Kills()/4
	acknowledged := map[string]bool{}
	for kill := range kills {
		for _, label := range markUntilKilled(t, fmt.Sprintf("kill %d", kill)) {
			acknowledged[label] = true
		}
		out := filepath.Join(folder, "record.jsonl")
		done(t, "export", "record", out, "--force")
		text, err := os.ReadFile(out)
		require.NoError(t, err)
		record, _, err := exchange.Read(bytes.NewReader(text))
		require.NoError(t, err)
		kept := map[string]int{}
		for _, m := range record.Marks {
			kept[m.Label]++
		}
		for label := range acknowledged {
			require.Equal(t, 1, kept[label], "the mark %s was acknowledged", label)
		}
	}
	assert.Greater(t, len(acknowledged), kills, "marks came in")
	t.Logf("%d kills, %d acknowledged marks, none lost", kills, len(acknowledged))
}

// markUntilKilled lets three windows of the page mark something as fast as they can, kills
// the server, and gives the labels of the marks that were acknowledged.
func markUntilKilled(t *testing.T, name string) (acknowledged []string) {
	t.Helper()
	server := program("desk", "--no-open", "--port", "0")
	stdout, err := server.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, server.Start())
	line, err := bufio.NewReader(stdout).ReadString('\n')
	require.NoError(t, err)
	address := regexp.MustCompile(`http://\S+`).FindString(line)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	client := &http.Client{Jar: jar}
	r, err := client.Get(address)
	require.NoError(t, err)
	r.Body.Close()
	page, _, _ := strings.Cut(address, "/?")

	var mu sync.Mutex
	var windows sync.WaitGroup
	first := make(chan struct{}, 1)
	for window := range 3 {
		windows.Go(func() {
			for n := 0; ; n++ {
				label := fmt.Sprintf("%s, window %d, mark %d", name, window, n)
				body, err := json.Marshal(map[string]any{"kind": "plage", "shape": "point", "label": label,
					"points": [][2]float64{{200 + float64(n%150), 200 + 20*float64(window)}}})
				if err != nil {
					panic(err)
				}
				r, err := client.Post(page+"/api/v1/frames/F1/marks", "application/json", bytes.NewReader(body))
				if err != nil {
					return // it is dead
				}
				r.Body.Close()
				if r.StatusCode != http.StatusCreated {
					continue
				}
				mu.Lock()
				acknowledged = append(acknowledged, label)
				mu.Unlock()
				select {
				case first <- struct{}{}:
				default:
				}
			}
		})
	}
	select {
	case <-first:
	case <-time.After(time.Minute):
		assert.Fail(t, "no mark was taken")
	}
	time.Sleep(time.Duration(rand.Float64() * float64(time.Second)))
	require.NoError(t, server.Process.Kill())
	windows.Wait()
	require.Error(t, server.Wait(), "it was killed")
	return acknowledged
}
