package follow

import (
	"bufio"
	"context"
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/testdata"
)

// TestFollowsAStationWithGaps follows the daily groups of the Kislovodsk station,
// where days are missing and only groups within 60° of the meridian are listed. Its
// yearly numbers are the truth.
func TestFollowsAStationWithGaps(t *testing.T) {
	file, err := os.Open(testdata.Shared(t, "data", "kislovodsk-groups", "kislovodsk-groups.csv"))
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	years := map[int][]labelled{}
	for _, r := range rows[1:] {
		utc, err := time.Parse("2006-01-02 15:04:05", r[1])
		require.NoError(t, err)
		lat, errLat := strconv.ParseFloat(r[4], 64)
		lon, errLon := strconv.ParseFloat(r[7], 64)
		require.NoError(t, errLat)
		require.NoError(t, errLon)
		years[utc.Year()] = append(years[utc.Year()], labelled{
			Sighting: at(catalog.Sunspot, utc, lat, lon, 0.3), // spread of a group's mean, common practice, no source
			label:    stationLabel(r[2], utc),
		})
	}
	var all tally
	for _, year := range []int{2010, 2012, 2013, 2015} {
		res, err := Follow(t.Context(), sightingsOf(years[year]), Options{})
		require.NoError(t, err)
		s := score(years[year], res)
		t.Logf("%d: %4d rows, %4d links: precision %.4f recall %.4f", year, len(years[year]), s.truth, s.precision(), s.recall())
		all.add(s)
	}
	t.Logf("all years: %d links: precision %.4f recall %.4f", all.truth, all.precision(), all.recall())
	assert.GreaterOrEqual(t, all.precision(), 0.99, "links of the same group among the links made")
	assert.GreaterOrEqual(t, all.recall(), 0.98, "links made among the links of the same group")
}

// stationLabel is the station's number of a group, where it is one: −2 stands for
// none, and in the first days of a year last year's numbers still run on.
func stationLabel(number string, utc time.Time) string {
	if number == "-2" {
		return ""
	}
	if n, err := strconv.Atoi(number); err == nil && utc.YearDay() < 20 && n > 200 {
		return "last year " + number
	}
	return number
}

// filament is a row of a list of filaments.
type filament struct {
	Sighting
	image string // YYYYMMDD_hhmmss
	number,
	fromImage string
	fromNumber string
}

var (
	bbsoDate = regexp.MustCompile(`Date : (\d{8}_\d{6})`)
	bbsoFrom = regexp.MustCompile(`(\d{8}_\d{6}) +FW +(\d+)`)
)

// bbsoFilaments reads the August lists of one year (Stonyhurst places).
func bbsoFilaments(t *testing.T, path string) []filament {
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	var out []filament
	var image string
	var utc time.Time
	for lines := bufio.NewScanner(file); lines.Scan(); {
		line := lines.Text()
		if m := bbsoDate.FindStringSubmatch(line); m != nil {
			image = m[1]
			utc, err = time.Parse("20060102_150405", image)
			require.NoError(t, err)
		}
		f := strings.Fields(line)
		if len(f) < 13 || image == "" {
			continue
		}
		if _, err := strconv.Atoi(f[0]); err != nil {
			continue
		}
		lat, errLat := strconv.ParseFloat(f[5], 64)
		cmd, errCMD := strconv.ParseFloat(f[6], 64)
		if errLat != nil || errCMD != nil {
			continue
		}
		s := at(catalog.Filament, utc, lat, 0, 0.5)
		s.Place.L = (s.Face.L0 + degrees(cmd)).Wrap360()
		row := filament{Sighting: s, image: image, number: f[0]}
		if m := bbsoFrom.FindStringSubmatch(line); m != nil {
			row.fromImage, row.fromNumber = m[1], m[2]
		}
		out = append(out, row)
	}
	return out
}

// TestFollowsTheFilamentsThatAreLinked compares with the few links back in time
// that the August lists of filaments have between images two days apart.
func TestFollowsTheFilamentsThatAreLinked(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(testdata.Shared(t, "data", "bbso-filaments"), "AUTOMATIC_*.tab"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	links, found := 0, 0
	for _, path := range files {
		rows := bbsoFilaments(t, path)
		id := map[string]string{}
		var seen []Sighting
		for i := range rows {
			rows[i].ID = strconv.Itoa(i)
			id[rows[i].image+" "+rows[i].number] = rows[i].ID
			seen = append(seen, rows[i].Sighting)
		}
		res, err := Follow(t.Context(), seen, Options{})
		require.NoError(t, err)
		before := map[string]string{}
		for _, p := range res.Passages {
			for i := 1; i < len(p.Sightings); i++ {
				before[p.Sightings[i].ID] = p.Sightings[i-1].ID
			}
		}
		for _, r := range rows {
			if from, listed := id[r.fromImage+" "+r.fromNumber]; listed {
				links++
				if before[r.ID] == from {
					found++
				}
			}
		}
	}
	t.Logf("%d of the %d links between listed images are found", found, links)
	require.GreaterOrEqual(t, links, 28, "links to listed images (30, by the README of the lists)")
	assert.GreaterOrEqual(t, float64(found)/float64(links), 0.8, "links found")
}

// meudonFilaments reads one daily list (Carrington places of the middles).
func meudonFilaments(t *testing.T) []Sighting {
	file, err := os.Open(testdata.Shared(t, "data", "meudon-filaments-2002", "meudon-2002-04-12_05-03.fil"))
	require.NoError(t, err)
	defer file.Close()
	var out []Sighting
	for lines := bufio.NewScanner(file); lines.Scan(); {
		f := strings.Split(lines.Text(), "/")
		if len(f) < 4 {
			continue
		}
		jd, errJD := strconv.ParseFloat(f[0], 64)
		lon, errLon := strconv.ParseFloat(f[2], 64)
		lat, errLat := strconv.ParseFloat(f[3], 64)
		if errJD != nil || errLon != nil || errLat != nil || math.Abs(jd-2452395.205498) < 1e-4 {
			continue // that image's list is all one place: its header had no scale
		}
		utc := time.Unix(0, 0).UTC().Add(time.Duration((jd - 2440587.5) * 24 * float64(time.Hour)))
		out = append(out, at(catalog.Filament, utc, lat, lon, 0.5))
	}
	return out
}

// likeWithin counts, for filaments well inside the disc, those which find another
// within the predicted 2-sigma ellipse in the next image one to two days later.
// With shuffle, longitudes are dealt out anew among the filaments of an image.
func likeWithin(seen []Sighting, rng *rand.Rand) (found, all int) {
	byTime := map[time.Time][]Sighting{}
	var times []time.Time
	for _, s := range seen {
		if byTime[s.UTC] == nil {
			times = append(times, s.UTC)
		}
		byTime[s.UTC] = append(byTime[s.UTC], s)
	}
	sort.Slice(times, func(i, j int) bool { return times[i].Before(times[j]) })
	for i := 1; i < len(times); i++ {
		gap := times[i].Sub(times[i-1]).Hours() / 24
		if gap < 0.4 || gap > 2.3 {
			continue
		}
		now := byTime[times[i]]
		lons := make([]float64, len(now))
		order := make([]int, len(now))
		for k := range now {
			order[k] = k
		}
		if rng != nil {
			order = rng.Perm(len(now))
		}
		for k := range now {
			lons[k] = now[order[k]].Place.L.Degrees()
		}
		for _, s := range byTime[times[i-1]] {
			cmd := s.Face.CMD(s.Place.Heliographic).Degrees()
			if math.Abs(cmd) > 50 {
				continue
			}
			res, err := Follow(context.Background(), []Sighting{s}, Options{})
			if err != nil {
				panic(err)
			}
			p := &res.Passages[0]
			want := p.Predict(times[i]).Place
			centre := coords.Square(p.last.prior.centre)
			all++
			for k, o := range now {
				dLat := o.Place.B.Degrees() - want.B.Degrees()
				dLon := wrap180(lons[k] - want.L.Degrees())
				varLat := coords.Square(want.Cov.SigmaB().Degrees()) + coords.Square(o.Place.Cov.SigmaB().Degrees()) + centre
				varLon := coords.Square(want.Cov.SigmaL().Degrees()) + coords.Square(o.Place.Cov.SigmaL().Degrees()) + centre
				if dLat*dLat/varLat+dLon*dLon/varLon < 4 {
					found++
					break
				}
			}
		}
	}
	return found, all
}

// TestFilamentsFindTheirLikeOnTheNextDay has no truth to compare with: it counts
// how many filaments find their like within the predicted ellipse, against chance.
func TestFilamentsFindTheirLikeOnTheNextDay(t *testing.T) {
	lists := map[string][]Sighting{"Meudon, April 2002": meudonFilaments(t)}
	files, err := filepath.Glob(filepath.Join(testdata.Shared(t, "data", "bbso-filaments"), "AUTOMATIC_*.tab"))
	require.NoError(t, err)
	for _, path := range files {
		for _, f := range bbsoFilaments(t, path) {
			lists["Big Bear and Kanzelhöhe, August 2000 to 2010"] = append(lists["Big Bear and Kanzelhöhe, August 2000 to 2010"], f.Sighting)
		}
	}
	for name, seen := range lists {
		found, all := likeWithin(seen, nil)
		rng := rand.New(rand.NewPCG(3, 4))
		chance, trials := 0, 0
		for range 5 {
			c, n := likeWithin(seen, rng)
			chance, trials = chance+c, trials+n
		}
		share, byChance := float64(found)/float64(all), float64(chance)/float64(trials)
		t.Logf("%s: %d of %d filaments (%.0f %%) find their like, %.0f %% with longitudes shuffled", name, found, all, 100*share, 100*byChance)
		assert.Greater(t, share, 1.8*byChance, "%s: share found against chance", name)
	}
}
