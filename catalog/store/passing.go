package store

import (
	"database/sql"
	"slices"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
)

// Passing is a mark as one of a passage.
//
//	Place  on the disc, as Position.Reading has it; zero errors: not known. nil: it has none
type Passing struct {
	Passage catalog.PassageID
	UTC     time.Time
	Place   *coords.Measured
}

// PassagesSeen lists, by id, the passages to which a mark is joined that a query chooses.
func (v *View) PassagesSeen(q Query) (ids []catalog.PassageID, err error) {
	condition, args := q.where()
	err = v.each("SELECT DISTINCT j.passage_id FROM frames f CROSS JOIN marks t ON t.frame_id = f.id"+
		" CROSS JOIN joins j ON j.mark_id = t.id AND j.removed = 0 AND j.state = 'made'"+
		" WHERE "+condition+" ORDER BY j.passage_id", args, func(scan scanner) error {
		var id catalog.PassageID
		err := scan(&id)
		ids = append(ids, id)
		return err
	})
	return ids, err
}

// EachPassing gives fn the marks of passages, those of each in the order of time; marks on
// reference frames only when wanted. Of nil it gives those of all passages.
func (v *View) EachPassing(ids []catalog.PassageID, references bool, fn func(Passing) error) error {
	condition := "t.removed = 0 AND f.removed = 0"
	if !references {
		condition += " AND f.reference = 0"
	}
	read := func(from, condition string, args []any) error {
		var r passingReader
		return v.each("SELECT j.passage_id, p.utc, coalesce(p.corrected_lat_deg, p.lat_deg), coalesce(p.corrected_lon_deg, p.lon_deg),"+
			" iif(p.corrected_lat_deg IS NOT NULL, p.corrected_sigma_lat_deg, p.sigma_lat_deg),"+
			" iif(p.corrected_lat_deg IS NOT NULL, p.corrected_sigma_lon_deg, p.sigma_lon_deg),"+
			" iif(p.corrected_lat_deg IS NOT NULL, p.corrected_corr_lat_lon, p.corr_lat_lon)"+
			" FROM "+from+" CROSS JOIN positions p ON p.mark_id = t.id WHERE "+condition+" ORDER BY f.middle_utc, f.id, t.id", args,
			func(scan scanner) error {
				p, err := r.read(scan)
				if err != nil {
					return err
				}
				return fn(p)
			})
	}
	const made = " AND j.removed = 0 AND j.state = 'made'"
	if ids == nil {
		return read("frames f CROSS JOIN marks t ON t.frame_id = f.id CROSS JOIN joins j ON j.mark_id = t.id"+made, condition, nil)
	}
	for some := range slices.Chunk(ids, idsAtOnce) {
		err := read("joins j CROSS JOIN marks t ON t.id = j.mark_id CROSS JOIN frames f ON f.id = t.frame_id",
			condition+made+" AND j.passage_id IN "+placeholders(1, len(some)), numbers(some))
		if err != nil {
			return err
		}
	}
	return nil
}

// passingReader reads rows; those of one frame have one time.
type passingReader struct {
	text string
	utc  time.Time
}

func (r *passingReader) read(scan scanner) (p Passing, err error) {
	var utc string
	var lat, lon, sigmaLat, sigmaLon, correlation sql.Null[float64]
	if err := scan(&p.Passage, &utc, &lat, &lon, &sigmaLat, &sigmaLon, &correlation); err != nil {
		return p, err
	}
	if utc != r.text {
		if r.utc, err = parseInstant(utc); err != nil {
			return p, err
		}
		r.text = utc
	}
	p.UTC = r.utc
	if lat.Valid {
		place := measured(lat.V, lon.V, sigmaLat.V, sigmaLon.V, correlation.V)
		p.Place = &place
	}
	return p, nil
}
