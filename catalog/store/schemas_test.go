package store

import (
	"bytes"
	"compress/flate"
	"database/sql"
	flags "flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

var keepSchema = flags.Bool("update", false, "write the sample catalogue of the newest schema to testdata/schemas")

func schemaFolder() string { return filepath.Join("..", "..", "testdata", "schemas") }

// sample fills a catalogue with one of everything that every schema has had.
func sample(t testing.TB, s *Store) {
	t.Helper()
	update(t, s, func(tx *Tx) error {
		o, err := tx.AddObserver(catalog.Observer{Name: "R. Vane", Default: true})
		require.NoError(t, err)
		site, err := tx.AddSite(catalog.Site{Name: "Yard", LatDeg: 50.1, LonDeg: 14.4, Zone: "Europe/Prague"})
		require.NoError(t, err)
		i, err := tx.AddInstrument(catalog.Instrument{Name: "60 mm", ApertureMm: 60, FocalMm: 500})
		require.NoError(t, err)
		u, err := tx.AddSetup(catalog.Setup{Instrument: i.ID, Name: "double stack", PassbandA: 0.5, Stacked: 2, PixelUm: 3.45})
		require.NoError(t, err)
		sitting, err := tx.AddSitting(catalog.Sitting{Observer: o.ID, Site: site.ID, Setup: u.ID, Day: catalog.DayOf(noon),
			Looked: map[catalog.Kind]catalog.Look{catalog.Plage: catalog.NoneSeen}, Seeing: catalog.Rating{Value: "2", Scale: "Kiepenheuer, modified"}})
		require.NoError(t, err)
		f, err := tx.AddFrame(catalog.Frame{Sitting: sitting.ID, Taken: noon, Path: "/sun/0314.fits", SHA256: strings.Repeat("0a", 32),
			WidthPx: 1936, HeightPx: 1216, Role: catalog.RoleSurface, Moment: catalog.MomentStart, ExposureS: 20, SigmaS: 1})
		require.NoError(t, err)
		_, err = tx.SetDisc(catalog.Disc{Frame: f.ID, Limb: coords.Limb{Centre: coords.Pixel{X: 968.25, Y: 607.5}, RadiusPx: 540.125},
			Layer: coords.Chromosphere, LayerFrom: catalog.LayerPrior, Method: catalog.DiscFitted, RMSPx: 0.4, ArcDeg: 300, Points: 290, Rejected: 4})
		require.NoError(t, err)
		_, err = tx.SetNorth(catalog.North{Frame: f.ID, Angle: angle(12.5), Sigma: angle(0.3), Method: "typed", Mirrored: true})
		require.NoError(t, err)
		m, err := tx.AddMark(catalog.Mark{Frame: f.ID, Kind: catalog.Filament, MarkedAt: noon, Observer: o.ID, Aliases: []string{"x 7"},
			Geometry: catalog.Geometry{Shape: catalog.Line, SigmaClickPx: 0.5, Pixels: []coords.Pixel{{X: 900, Y: 600.5}, {X: 950.25, Y: 620}}}})
		require.NoError(t, err)
		p, err := tx.AddPassage(catalog.Passage{Name: "Alder", Kind: catalog.Filament, Height: &coords.Layer{HeightMm: 21, SigmaMm: 5}})
		require.NoError(t, err)
		odds := 0.93
		_, err = tx.AddJoin(catalog.Join{Mark: m.ID, Passage: p.ID, State: catalog.Made, By: catalog.ByProgram, Odds: &odds})
		return err
	})
	note(t, s, catalog.Terminal, 1, "broken in the middle")
	note(t, s, catalog.Desk("a1b2"), 1, "broken in two places")
}

// dump writes a database as SQL text, which shows in a diff what is in it.
func dump(t testing.TB, s *Store) string {
	t.Helper()
	var out strings.Builder
	fmt.Fprintf(&out, "PRAGMA application_id = %d;\n", applicationID)
	lines, err := s.read.Query("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY CASE type WHEN 'table' THEN 0 ELSE 1 END, rowid")
	require.NoError(t, err)
	var after strings.Builder // indexes and triggers come when the rows are there
	var names []string
	for lines.Next() {
		var kind, name, statement string
		require.NoError(t, lines.Scan(&kind, &name, &statement))
		if kind == "table" {
			names = append(names, name)
			out.WriteString(statement + ";\n")
		} else {
			after.WriteString(statement + ";\n")
		}
	}
	require.NoError(t, lines.Err())
	for _, name := range append(names, "sqlite_sequence") {
		out.WriteString(dumpRows(t, s.read, name))
	}
	return out.String() + after.String()
}

func dumpRows(t testing.TB, db *sql.DB, table string) string {
	t.Helper()
	var out strings.Builder
	lines, err := db.Query("SELECT * FROM " + table)
	require.NoError(t, err)
	defer lines.Close()
	columns, err := lines.Columns()
	require.NoError(t, err)
	for lines.Next() {
		values, targets := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			targets[i] = &values[i]
		}
		require.NoError(t, lines.Scan(targets...))
		literals := make([]string, len(values))
		for i, v := range values {
			switch v := v.(type) {
			case nil:
				literals[i] = "NULL"
			case []byte:
				literals[i] = fmt.Sprintf("x'%x'", v)
			case string:
				literals[i] = "'" + strings.ReplaceAll(v, "'", "''") + "'"
			case time.Time:
				literals[i] = "'" + v.Format(time.DateTime) + "'"
			case float64:
				literals[i] = strings.TrimSuffix(fmt.Sprintf("%#v", v), ".0")
			default:
				literals[i] = fmt.Sprint(v)
			}
		}
		fmt.Fprintf(&out, "INSERT INTO %s VALUES (%s);\n", table, strings.Join(literals, ", "))
	}
	require.NoError(t, lines.Err())
	return out.String()
}

// written makes a catalogue from SQL text.
func written(t *testing.T, text string) (path string) {
	path = filepath.Join(t.TempDir(), "catalogue.db")
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	_, err = db.Exec(text)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	return path
}

// A change that was made under a schema whose columns had other names and units is taken
// back and done again.
func TestHistoryOutlivesTheNamesOfColumns(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(schemaFolder(), "0006.sql"))
	require.NoError(t, err)
	// As a program of that time kept it: the passage's height came to be 21 from 19.5 Mm.
	var packed bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.DefaultCompression)
	require.NoError(t, err)
	_, err = w.Write([]byte(`{"changed":[{"table":"passages","id":1,"before":{"height_mm":19.5,"height_sigma_mm":4,"operation_id":1},"after":{"height_mm":21,"height_sigma_mm":5,"operation_id":4}}]}`))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	path := written(t, string(text)+fmt.Sprintf(`
		INSERT INTO operations (id, uuid, act, origin, title, at_utc, changes) VALUES (4, x'%x', 'done', 'terminal', 'follow', '2026-03-15T12:00:00.000Z', x'%x');
		UPDATE passages SET operation_id = 4, revision = revision + 1;`, make([]byte, 16), packed.Bytes()))
	s := openAt(t, path)
	height := func() *coords.Layer {
		p, err := s.Read(ctx).Passage(1)
		require.NoError(t, err)
		return p.Height
	}
	assert.Equal(t, &coords.Layer{HeightMm: 21, SigmaMm: 5}, height())
	_, err = s.Undo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	assert.Equal(t, &coords.Layer{HeightMm: 19.5, SigmaMm: 4}, height())
	_, err = s.Redo(ctx, at(catalog.Terminal))
	require.NoError(t, err)
	assert.Equal(t, &coords.Layer{HeightMm: 21, SigmaMm: 5}, height())
}

// A kept catalogue of each released schema opens, and all that was in it is there.
func TestKeptCataloguesOfEverySchemaOpen(t *testing.T) {
	if *keepSchema {
		s := open(t)
		sample(t, s)
		require.NoError(t, os.MkdirAll(schemaFolder(), 0o755))
		path := filepath.Join(schemaFolder(), fmt.Sprintf("%04d.sql", newest(t)))
		require.NoError(t, os.WriteFile(path, []byte(dump(t, s)), 0o644))
	}
	kept, err := filepath.Glob(filepath.Join(schemaFolder(), "*.sql"))
	require.NoError(t, err)
	require.NotEmpty(t, kept)
	assert.Contains(t, kept, filepath.Join(schemaFolder(), fmt.Sprintf("%04d.sql", newest(t))),
		"no catalogue of the newest schema is kept; go test ./catalog/store -run KeptCatalogues -update")
	for _, file := range kept {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			path := written(t, string(text))
			s := openAt(t, path)
			if filepath.Base(file) != fmt.Sprintf("%04d.sql", newest(t)) {
				assert.Len(t, backups(t, path), 1, "an older one is copied before it is migrated")
			}
			entries, err := s.Read(ctx).Entries(Query{Label: "x 7"})
			require.NoError(t, err)
			require.Len(t, entries, 1)
			e := entries[0]
			assert.Equal(t, "broken in two places", e.Mark.Note)
			assert.Equal(t, []coords.Pixel{{X: 900, Y: 600.5}, {X: 950.25, Y: 620}}, e.Mark.Geometry.Pixels)
			assert.Equal(t, "Alder", e.PassageName)
			assert.InDelta(t, 0.93, *e.Join.Odds, 1e-12)
			b, err := s.Read(ctx).Bearings(e.Frame.ID)
			require.NoError(t, err)
			assert.InDelta(t, 540.125, b.Disc.Limb.RadiusPx, 1e-12)
			assert.Equal(t, coords.Chromosphere, b.Disc.Layer)
			p, err := s.Read(ctx).Passage(e.Join.Passage)
			require.NoError(t, err)
			assert.Equal(t, &coords.Layer{HeightMm: 21, SigmaMm: 5}, p.Height)
			assert.True(t, b.North.Mirrored)
			assert.InDelta(t, 12.5, b.North.Angle.Degrees(), 1e-12)
			checkDerived(t, s)
			_, err = s.Undo(ctx, at(catalog.Desk("a1b2")))
			require.NoError(t, err)
			for range 2 {
				_, err = s.Undo(ctx, at(catalog.Terminal))
				require.NoError(t, err, "what was done under an older schema can be taken back")
			}
			assert.Empty(t, snapshot(t, s))
		})
	}
}
