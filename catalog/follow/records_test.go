package follow

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/testdata"
)

// labelled is a sighting with the truth that the follower must not see.
type labelled struct {
	Sighting
	label string
	cmd   float64 // as the record has it, degrees
}

// groupYear reads one yearly file of daily sunspot groups (columns: the README
// beside the files).
func groupYear(t testing.TB, year int) []labelled {
	t.Helper()
	file, err := os.Open(testdata.Shared(t, "data", "rgo-noaa-groups", fmt.Sprintf("g%d.txt", year)))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	sigma := 0.1
	if year > 1976 {
		sigma = 0.5
	}
	var out []labelled
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		line := strings.TrimRight(lines.Text(), "\r\n ")
		if len(line) < 68 || strings.TrimSpace(line[12:20]) == "0" || strings.TrimSpace(line[12:20]) == "" {
			continue
		}
		number := func(from, to int) float64 {
			v, err := strconv.ParseFloat(strings.TrimSpace(line[from:min(to, len(line))]), 64)
			if err != nil {
				t.Fatalf("g%d: %q: %v", year, line, err)
			}
			return v
		}
		day := time.Date(int(number(0, 4)), time.Month(number(4, 6)), int(number(6, 8)), 0, 0, 0, 0, time.UTC)
		utc := day.Add(time.Duration(number(8, 12) * 24 * float64(time.Hour))).Round(time.Second)
		out = append(out, labelled{
			Sighting: at(catalog.Sunspot, utc, number(63, 68), number(57, 62), sigma),
			cmd:      number(69, 74),
			label:    strings.TrimSpace(line[12:20]),
		})
	}
	return out
}

// at is a sighting of given place and error, in degrees.
func at(kind catalog.Kind, utc time.Time, latDeg, lonDeg, sigmaDeg float64) Sighting {
	v := math.Pow(sigmaDeg*math.Pi/180, 2)
	return Sighting{
		Kind: kind, UTC: utc, Face: ephemeris.At(utc),
		Place: coords.Measured{
			Heliographic: coords.Heliographic{B: coords.Angle(latDeg) * coords.Degree, L: (coords.Angle(lonDeg) * coords.Degree).Wrap360()},
			Cov:          coords.Covariance{BB: v, LL: v},
		},
	}
}

// tally counts links: in the truth, in the result, in both.
type tally struct{ truth, made, both int }

func (s tally) precision() float64 { return float64(s.both) / float64(s.made) }
func (s tally) recall() float64    { return float64(s.both) / float64(s.truth) }
func (s *tally) add(o tally) {
	s.truth, s.made, s.both = s.truth+o.truth, s.made+o.made, s.both+o.both
}

// pairs lists consecutive sightings of each group.
func pairs(groups [][]string) map[[2]string]bool {
	out := map[[2]string]bool{}
	for _, g := range groups {
		for i := 1; i < len(g); i++ {
			out[[2]string{g[i-1], g[i]}] = true
		}
	}
	return out
}

// score compares the passages found with the labels.
func score(rows []labelled, res Result) tally {
	s, _, _ := compare(rows, res)
	return s
}

// compare also gives the links of the truth and those made.
func compare(rows []labelled, res Result) (tally, map[[2]string]bool, map[[2]string]bool) {
	byLabel := map[string][]labelled{}
	for _, r := range rows {
		if r.label != "" {
			byLabel[r.label] = append(byLabel[r.label], r)
		}
	}
	var truth, made [][]string
	for _, g := range byLabel {
		sort.SliceStable(g, func(i, j int) bool { return g[i].UTC.Before(g[j].UTC) })
		var ids []string
		for _, r := range g {
			ids = append(ids, r.ID)
		}
		truth = append(truth, ids)
	}
	for _, p := range res.Passages {
		var ids []string
		for _, s := range p.Sightings {
			ids = append(ids, s.ID)
		}
		made = append(made, ids)
	}
	a, b := pairs(truth), pairs(made)
	s := tally{truth: len(a), made: len(b)}
	for p := range b {
		if a[p] {
			s.both++
		}
	}
	return s, a, b
}

func sightingsOf(rows []labelled) []Sighting {
	out := make([]Sighting, len(rows))
	for i := range rows {
		rows[i].ID = strconv.Itoa(i)
		out[i] = rows[i].Sighting
	}
	return out
}
