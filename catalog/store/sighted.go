package store

import (
	"database/sql"
	"strings"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Sighted is what following needs of an entry that has a place, and no more: it is
// read several times as fast.
//
//	Place   on the disc, corrected for height where that applies; zero errors: not known
//	AtEdge  it stands beyond the limb: Place is that of the limb there, of which the
//	        longitude, which is not its own, has no error
//	Join    with the passage it belongs to, without record and note; nil: none
type Sighted struct {
	Mark   catalog.MarkID
	Frame  catalog.FrameID
	Kind   catalog.Kind
	Shape  catalog.Shape
	Extent catalog.Extent
	UTC    time.Time
	Place  coords.Measured
	AtEdge bool
	Join   *catalog.Join
}

// The columns of a place: as Position.Reading has it, else that of the limb.
var sightedColumns = strings.Join([]string{"t.id", "t.frame_id", "t.kind", "t.shape", "coalesce(t.extent, '')", "p.utc",
	"coalesce(p.corrected_lat_deg, p.lat_deg, p.limb_lat_deg)",
	"coalesce(p.corrected_lon_deg, p.lon_deg, p.limb_lon_deg)",
	"iif(p.corrected_lat_deg IS NOT NULL, p.corrected_sigma_lat_deg, iif(p.lat_deg IS NOT NULL, p.sigma_lat_deg, p.limb_sigma_lat_deg))",
	"iif(p.corrected_lat_deg IS NOT NULL, p.corrected_sigma_lon_deg, p.sigma_lon_deg)",
	"iif(p.corrected_lat_deg IS NOT NULL, p.corrected_corr_lat_lon, p.corr_lat_lon)",
	"p.corrected_lat_deg IS NULL AND p.lat_deg IS NULL",
	"j.id", "j.passage_id", "j.voice", "j.odds"}, ", ")

// EachSighted gives fn what a query chooses and has a place, in the order of time.
func (v *View) EachSighted(q Query, fn func(Sighted) error) error {
	condition, args := q.where()
	var r sightedReader
	// Frames first, by their time, whatever SQLite thinks of their number.
	return v.each("SELECT "+sightedColumns+
		" FROM frames f CROSS JOIN marks t ON t.frame_id = f.id"+
		" CROSS JOIN positions p ON p.mark_id = t.id AND p.reason = ''"+
		" LEFT JOIN joins j ON j.mark_id = t.id AND j.removed = 0 AND j.state = 'made'"+
		" WHERE "+condition+" ORDER BY f.middle_utc, f.id, t.id", args,
		func(scan scanner) error {
			s, err := r.read(scan)
			if err != nil {
				return err
			}
			return fn(s)
		})
}

// sightedReader reads rows; those of one frame have one time.
type sightedReader struct {
	text string
	utc  time.Time
}

func (r *sightedReader) read(scan scanner) (s Sighted, err error) {
	var kind, shape, extent, utc string
	var lat, lon float64
	var sigmaLat, sigmaLon, correlation, odds sql.Null[float64]
	var join, passage sql.Null[int64]
	var voice sql.Null[string]
	err = scan(&s.Mark, &s.Frame, &kind, &shape, &extent, &utc, &lat, &lon, &sigmaLat, &sigmaLon, &correlation, &s.AtEdge,
		&join, &passage, &voice, &odds)
	if err != nil {
		return s, err
	}
	if s.Kind, err = catalog.ParseKind(kind); err != nil {
		return s, err
	}
	if s.Shape, err = catalog.ParseShape(shape); err != nil {
		return s, err
	}
	if s.Extent, err = catalog.ParseExtent(extent); err != nil {
		return s, err
	}
	if utc != r.text {
		if r.utc, err = parseInstant(utc); err != nil {
			return s, err
		}
		r.text = utc
	}
	s.UTC, s.Place = r.utc, measured(lat, lon, sigmaLat.V, sigmaLon.V, correlation.V)
	if join.Valid {
		s.Join = &catalog.Join{ID: catalog.JoinID(join.V), Mark: s.Mark, Passage: catalog.PassageID(passage.V), State: catalog.Made, Odds: number(odds)}
		s.Join.By, err = catalog.ParseVoice(voice.V)
	}
	return s, err
}

// Glimpsed is a mark that has a place, as it counts for how many features there are.
type Glimpsed struct {
	Frame  catalog.FrameID
	UTC    time.Time
	Kind   catalog.Kind
	LatDeg float64
}

// Glimpses are what a query chooses and has a place.
func (v *View) Glimpses(q Query) (seen []Glimpsed, err error) {
	condition, args := q.where()
	var last string
	err = v.each("SELECT t.frame_id, p.utc, t.kind, coalesce(p.corrected_lat_deg, p.lat_deg, p.limb_lat_deg)"+
		" FROM frames f CROSS JOIN marks t ON t.frame_id = f.id"+
		" CROSS JOIN positions p ON p.mark_id = t.id AND p.reason = ''"+
		" WHERE "+condition+" ORDER BY f.middle_utc, f.id, t.id", args,
		func(scan scanner) (err error) {
			var g Glimpsed
			var utc, kind string
			if err := scan(&g.Frame, &utc, &kind, &g.LatDeg); err != nil {
				return err
			}
			if utc == last {
				g.UTC = seen[len(seen)-1].UTC
			} else if g.UTC, err = parseInstant(utc); err != nil {
				return err
			}
			last = utc
			g.Kind, err = catalog.ParseKind(kind)
			seen = append(seen, g)
			return err
		})
	return seen, err
}
