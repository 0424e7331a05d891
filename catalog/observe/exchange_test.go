package observe_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/exchange"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
)

// season fills a catalogue with marks of all kinds, shapes and forms, and with all
// else that can be kept.
func season(t testing.TB, k observe.Keeper, marks int) {
	t.Helper()
	random := rand.New(rand.NewPCG(5, 3))
	o, site, setup := yard(t, k)
	change := store.Change{Title: "season", Origin: catalog.Terminal, At: k.Now()}
	_, err := k.Store.Update(ctx, change, func(tx *store.Tx) error {
		var previous catalog.Frame
		for n := 0; n < marks; {
			day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, n/100)
			s, err := tx.AddSitting(catalog.Sitting{Observer: o.ID, Setup: setup.ID, Site: site.ID, Day: day,
				Looked: map[catalog.Kind]catalog.Look{catalog.Sunspot: catalog.LookedFor, catalog.Plage: catalog.NoneSeen},
				Seeing: catalog.Rating{Value: "=2", Scale: "Kiepenheuer \"steadiness\""}, ClockCorrectionS: random.NormFloat64() * 10,
				Note: "clouds, 20 °C\nHα “good”"})
			if err != nil {
				return err
			}
			if _, err := tx.SetCount(catalog.Count{Sitting: s.ID, Tally: catalog.TallySpots, North: n % 7, South: 2, Total: 3 + n%7, Split: true}); err != nil {
				return err
			}
			f, err := tx.AddFrame(catalog.Frame{Sitting: s.ID, Path: fmt.Sprintf("/pictures/%d.png", n), SHA256: fmt.Sprintf("%064x", n),
				Role: catalog.RoleSurface, Taken: day.Add(time.Duration(random.IntN(86_400_000)) * time.Millisecond),
				Moment: catalog.MomentStart, ExposureS: random.Float64(), SigmaS: random.Float64(), WidthPx: 1200, HeightPx: 1000})
			if err != nil {
				return err
			}
			_, err = tx.SetDisc(catalog.Disc{Frame: f.ID, Limb: coords.Limb{Centre: coords.Pixel{X: 600 + random.NormFloat64(), Y: 500 + random.NormFloat64()},
				RadiusPx: 410 + random.Float64(), Flattening: 0.001 * random.Float64(), ShortAxis: coords.Angle(random.Float64()),
				Cov: coords.LimbCovariance{XX: random.Float64(), YY: random.Float64(), RR: random.Float64(), XY: 0.01 * random.NormFloat64()}},
				Layer: coords.Chromosphere, LayerFrom: catalog.LayerPrior, Method: catalog.DiscFitted, RMSPx: random.Float64(), Points: 720})
			if err != nil {
				return err
			}
			_, err = tx.SetNorth(catalog.North{Frame: f.ID, Angle: coords.Angle(6 * random.Float64()), Mirrored: n%3 == 0,
				Sigma: coords.Angle(0.01 * random.Float64()), Method: "as last time", From: previous.ID, Parity: 0.99})
			if err != nil {
				return err
			}
			previous = f
			var batch []catalog.Mark
			for range 100 {
				batch = append(batch, anyMark(random, f, o.ID, n))
				n++
			}
			if batch, err = tx.AddMarks(batch); err != nil {
				return err
			}
			same := batch[0]
			same.SameAs = batch[1].ID
			if _, err := tx.EditMark(same); err != nil {
				return err
			}
			odds := random.Float64()
			height := coords.Layer{HeightMm: 20 + random.Float64(), SigmaMm: random.Float64()}
			ps, err := tx.AddPassages([]catalog.Passage{{Name: fmt.Sprintf("F%d", n), Kind: catalog.Filament, Height: &height},
				{Name: fmt.Sprintf("G%d", n), Kind: catalog.Prominence}})
			if err != nil {
				return err
			}
			if _, err := tx.AddJoins([]catalog.Join{{Mark: batch[2].ID, Passage: ps[0].ID, State: catalog.Made, By: catalog.ByObserver},
				{Mark: batch[3].ID, Passage: ps[1].ID, State: catalog.Proposed, By: catalog.ByProgram, Odds: &odds}}); err != nil {
				return err
			}
			if _, err := tx.AddLink(catalog.Link{From: ps[0].ID, To: ps[1].ID, Relation: catalog.Return, State: catalog.Proposed, By: catalog.ByProgram, Odds: &odds}); err != nil {
				return err
			}
		}
		return nil
	})
	require.NoError(t, err)
	site.Note = "behind the shed"
	_, err = k.EditSite(ctx, site) // which derives the warnings of its frames
	require.NoError(t, err)
}

// anyMark is a mark of some kind, shape and form.
func anyMark(random *rand.Rand, f catalog.Frame, by catalog.ObserverID, n int) catalog.Mark {
	m := catalog.Mark{Frame: f.ID, Kind: catalog.Kinds[n%5], Observer: by, MarkedAt: f.Taken, Label: fmt.Sprintf("@%d", n)}
	m.Geometry.Shape = catalog.Shape(1 + n%3)
	for range int(m.Geometry.Shape) {
		switch n % 4 {
		case 0:
			m.Geometry.Polar = append(m.Geometry.Polar, catalog.PolarPoint{PA: coords.Angle(6 * random.Float64()), R: 1.2 * random.Float64()})
			m.Geometry.SigmaR, m.Geometry.SigmaPA, m.Geometry.PolarLimb = 0.01*random.Float64(), coords.Angle(0.01*random.Float64()), coords.Chromosphere
		case 1:
			m.Geometry.Places = append(m.Geometry.Places, catalog.PlacePoint{B: coords.Angle(random.Float64()), Lon: coords.Angle(random.Float64()), ByCMD: n%8 == 1})
			m.Geometry.SigmaPlace = coords.Angle(0.01 * random.Float64())
		default:
			m.Geometry.Pixels = append(m.Geometry.Pixels, coords.Pixel{X: 600 + 300*random.NormFloat64(), Y: 500 + 200*random.NormFloat64()})
			m.Geometry.SigmaClickPx = 0.5 + random.Float64()
		}
	}
	if m.Kind == catalog.Sunspot {
		m.Extent, m.Spots = catalog.SpotGroup, 1+n%40
	}
	if n%6 == 0 {
		m.Height, m.Aliases = &coords.Layer{HeightMm: 30 * random.Float64(), SigmaMm: random.Float64()}, []string{"AR 4001", "=1+1"}
	}
	return m
}

func written(t testing.TB, r exchange.Record) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, exchange.Write(&out, r, "limbwatch", time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)))
	return out.Bytes()
}

func whole(t testing.TB, k observe.Keeper) exchange.Record {
	t.Helper()
	r, err := k.RecordBetween(ctx, time.Time{}, time.Time{})
	require.NoError(t, err)
	return r
}

// The file of the catalogue that was read back is, byte for byte, the file it was
// read from: every figure to the last digit, and the positions computed anew too.
func TestARecordOfTenThousandMarksComesBackToTheLastDigit(t *testing.T) {
	marks := 10_000
	if testing.Short() {
		marks = 500
	}
	from, to := keeper(t), keeper(t)
	to.Force = true // the season's marks stand anywhere
	season(t, from, marks)
	began := time.Now()
	file := written(t, whole(t, from))
	t.Logf("%d marks written in %s, %d bytes", marks, time.Since(began).Round(time.Millisecond), len(file))
	assert.Equal(t, marks, strings.Count(string(file), `{"noun":"mark"`))

	began = time.Now()
	r, _, err := exchange.Read(bytes.NewReader(file))
	require.NoError(t, err)
	dry, err := to.ImportRecord(ctx, r, observe.MergeOptions{DryRun: true})
	require.NoError(t, err)
	assert.Empty(t, whole(t, to).Marks, "a dry run keeps nothing")
	done, err := to.ImportRecord(ctx, r, observe.MergeOptions{Source: "season.jsonl"})
	require.NoError(t, err)
	assert.Equal(t, dry, done)
	t.Logf("read, tried and kept in %s", time.Since(began).Round(time.Millisecond))
	require.True(t, bytes.Equal(file, written(t, whole(t, to))), "the file written again differs")

	// The same once more changes nothing.
	again, err := to.ImportRecord(ctx, r, observe.MergeOptions{})
	require.NoError(t, err)
	for _, n := range again.Nouns {
		assert.Equal(t, n.Read, n.Same, n.Noun)
	}
	history, err := to.Store.Read(ctx).History(catalog.Terminal, 10)
	require.NoError(t, err)
	require.Len(t, history, 1, "one operation")
	_, err = to.Undo(ctx)
	require.NoError(t, err)
	assert.Empty(t, whole(t, to).Frames)
}

// handed gives another keeper the whole record of one.
func handed(t testing.TB, from, to observe.Keeper, opts observe.MergeOptions) (observe.Merged, error) {
	t.Helper()
	r, _, err := exchange.Read(bytes.NewReader(written(t, whole(t, from))))
	require.NoError(t, err)
	to.Force = true // the season's marks stand anywhere
	return to.ImportRecord(ctx, r, opts)
}

func TestWhatStandsOtherwiseIsToldAndNothingIsKept(t *testing.T) {
	a, b := keeper(t), keeper(t)
	season(t, a, 100)
	_, err := handed(t, a, b, observe.MergeOptions{})
	require.NoError(t, err)

	// Here a mark changes its label, there it is removed; a sitting is added there.
	v := b.Store.Read(ctx)
	m, err := v.Mark(7)
	require.NoError(t, err)
	m.Label = "mine"
	change := store.Change{Title: "edit", Origin: catalog.Terminal, At: b.Now()}
	_, err = b.Store.Update(ctx, change, func(tx *store.Tx) error {
		if _, err := tx.EditMark(m); err != nil {
			return err
		}
		return tx.RemoveMark(9, store.Newest)
	})
	require.NoError(t, err)
	_, err = a.AddSitting(ctx, catalog.Sitting{Day: time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)

	_, err = handed(t, a, b, observe.MergeOptions{})
	conflicts := new(observe.ConflictsError)
	require.ErrorAs(t, err, &conflicts)
	require.Len(t, conflicts.Merged.Conflicts, 2)
	assert.Equal(t, `mark M7 "mine": label is mine here and @7 there`, conflicts.Merged.Conflicts[0].String())
	assert.Equal(t, `mark M9 "@9" was removed here`, conflicts.Merged.Conflicts[1].String())
	assert.Len(t, whole(t, b).Sittings, 1, "nothing was kept")

	done, err := handed(t, a, b, observe.MergeOptions{Prefer: observe.PreferMine})
	require.NoError(t, err)
	assert.Len(t, whole(t, b).Sittings, 2)
	m, err = v.Mark(7)
	require.NoError(t, err)
	assert.Equal(t, "mine", m.Label)
	for _, n := range done.Nouns {
		assert.Equal(t, n.Read, n.Added+n.Same+n.Changed+n.LeftOut, n.Noun)
	}

	_, err = handed(t, a, b, observe.MergeOptions{Prefer: observe.PreferTheirs})
	require.NoError(t, err)
	assert.Equal(t, string(written(t, whole(t, a))), string(written(t, whole(t, b))))
	_, err = b.Undo(ctx)
	require.NoError(t, err)
	_, err = v.Mark(9)
	assert.ErrorContains(t, err, "removed")
}

func TestContradictionsAreReadable(t *testing.T) {
	said := observe.Conflict{Noun: "north", ID: "N1", Differences: []store.Difference{
		{Column: "angle_deg", Here: -4.810596206494435, There: -5.5},
		{Column: "sigma_deg", Here: 0.30000000001, There: 0.3},
		{Column: "note", Here: "", There: "typed"},
		{Column: "parity_odds", Here: nil, There: 0.99},
	}}.String()
	assert.Equal(t, "north N1: angle_deg is -4.8106 here and -5.5 there; sigma_deg is 0.30000000001 here and 0.3 there; "+
		"note is nothing here and typed there; parity_odds is nothing here and 0.99 there", said)
}

// The same joins and links with other odds, as following finds them beside other marks,
// are no contradiction; another word of the observer is one.
func TestOddsOfTheProgramAreNoContradiction(t *testing.T) {
	a, b := keeper(t), keeper(t)
	season(t, a, 100)
	_, err := handed(t, a, b, observe.MergeOptions{})
	require.NoError(t, err)
	odds := 0.625
	change := store.Change{Title: "odds", Origin: catalog.Terminal, At: a.Now()}
	weighed := 0
	_, err = a.Store.Update(ctx, change, func(tx *store.Tx) error {
		joins, err := tx.JoinsOf(1)
		if err != nil {
			return err
		}
		for _, j := range joins {
			if j.By == catalog.ByProgram {
				weighed++
				j.Odds = &odds
				if _, err := tx.EditJoin(j); err != nil {
					return err
				}
			}
		}
		links, err := tx.Links()
		if err != nil {
			return err
		}
		for _, l := range links {
			if l.By == catalog.ByProgram {
				weighed++
				l.Odds = &odds
				if _, err := tx.EditLink(l); err != nil {
					return err
				}
			}
		}
		return nil
	})
	require.NoError(t, err)
	require.Positive(t, weighed, "the season has something that the program weighed")

	before := string(written(t, whole(t, b)))
	done, err := handed(t, a, b, observe.MergeOptions{})
	require.NoError(t, err, "nothing of it was anybody's word")
	assert.Empty(t, done.Conflicts)
	assert.Equal(t, before, string(written(t, whole(t, b))))

	_, err = handed(t, a, b, observe.MergeOptions{Prefer: observe.PreferTheirs})
	require.NoError(t, err)
	assert.Equal(t, string(written(t, whole(t, a))), string(written(t, whole(t, b))))
}

// Two people who began catalogues of their own mean the same site by its name, the
// same picture by its content; their passages of one name are two.
func TestTwoCataloguesThatBeganApart(t *testing.T) {
	a, b := keeper(t), keeper(t)
	season(t, a, 100)
	yard(t, b)
	change := store.Change{Title: "own", Origin: catalog.Terminal, At: b.Now()}
	_, err := b.Store.Update(ctx, change, func(tx *store.Tx) error {
		if _, err := tx.AddPassage(catalog.Passage{Name: "F100", Kind: catalog.Filament}); err != nil {
			return err
		}
		_, err := tx.AddFrame(catalog.Frame{Path: "/mine/0.png", SHA256: fmt.Sprintf("%064x", 0), WidthPx: 1200, HeightPx: 1000,
			Taken: time.Date(2026, 1, 1, 10, 0, 0, 0, time.UTC)})
		return err
	})
	require.NoError(t, err)
	done, err := handed(t, a, b, observe.MergeOptions{Prefer: observe.PreferMine})
	require.NoError(t, err)
	r := whole(t, b)
	assert.Len(t, r.Observers, 1)
	assert.Len(t, r.Sites, 1)
	assert.Len(t, r.Frames, 1)
	assert.Len(t, r.Marks, 100)
	assert.Len(t, r.Passages, 3)
	require.Len(t, done.Notes, 1)
	assert.Equal(t, `passage "F100" is called "F100 (2)" here, where that name is taken by another`, done.Notes[0])
	require.Len(t, done.Conflicts, 2)
	assert.Equal(t, "site", done.Conflicts[0].Noun)
	assert.Equal(t, "frame", done.Conflicts[1].Noun)

	_, err = handed(t, a, b, observe.MergeOptions{Prefer: observe.PreferMine})
	require.NoError(t, err)
	assert.Len(t, whole(t, b).Passages, 3, "the renamed one is known again")
}

func TestRecordsThatCannotBeRead(t *testing.T) {
	const begin = `{"noun":"record","version":1}` + "\n"
	const o = `{"noun":"observer","uuid":"0197c0de-0000-7000-8000-000000000001","name":"R. Vane"}` + "\n"
	for text, want := range map[string]string{
		"":                                       "empty file",
		o:                                        "line 1: noun \"observer\": want a first line that begins a record",
		`{"noun":"record","version":9}`:          "line 1: version 9 of the format",
		begin + o + o:                            "line 3: uuid 0197c0de-0000-7000-8000-000000000001 stands on line 2 already",
		begin + `{"noun":"comet"}`:               "line 2: noun \"comet\" is not known",
		begin + `{"noun":"observer","name":"x"}`: "line 2: observer without a uuid",
		begin + strings.Replace(o, "R. Vane", "", 1):      "line 2: observer 0197c0de-0000-7000-8000-000000000001: observer without a name",
		begin + strings.Replace(o, `"name"`, `"nome"`, 1): "line 2: observer with an unknown field",
		begin + "{": "line 2: unexpected end of JSON input",
		begin + `{"noun":"join","uuid":"0197c0de-0000-7000-8000-000000000002","mark":"0197c0de-0000-7000-8000-000000000003","passage":"0197c0de-0000-7000-8000-000000000003","state":"made","by":"observer"}`: "line 2: join 0197c0de-0000-7000-8000-000000000002: names mark 0197c0de-0000-7000-8000-000000000003, which is not in the file",
	} {
		_, _, err := exchange.Read(strings.NewReader(text))
		assert.ErrorContains(t, err, want)
	}
}

func TestAMonthOfARecordNamesAllItNeeds(t *testing.T) {
	k := keeper(t)
	season(t, k, 500)
	from := time.Date(2026, 1, 3, 0, 0, 0, 0, time.UTC)
	r, err := k.RecordBetween(ctx, from, from.AddDate(0, 0, 1))
	require.NoError(t, err)
	assert.Len(t, r.Frames, 2, "the day's and the one its north is from")
	back, _, err := exchange.Read(bytes.NewReader(written(t, r)))
	require.NoError(t, err)
	assert.NotEmpty(t, back.Marks)
	to := keeper(t)
	to.Force = true // the season's marks stand anywhere
	_, err = to.ImportRecord(ctx, back, observe.MergeOptions{})
	require.NoError(t, err)
}
