package desk

import (
	"net/http"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
)

// shoreDay is a day as the shore shows it.
//
//	DayNumber  days since 1970, for true spacing
//	Date       its UT day, as 2026-03-14
//	Frame      the picture to open
//	Dots       its marks on a disc of radius 1: u to the right (west), v up (solar north)
type shoreDay struct {
	ID        string   `json:"id"`
	Title     string   `json:"title"`
	Short     string   `json:"short"`
	Date      string   `json:"date"`
	DayNumber float64  `json:"day_number"`
	Frame     string   `json:"frame"`
	Frames    []string `json:"frames"`
	Dots      []dot    `json:"dots"`
	Marks     int      `json:"marks"`

	role catalog.Role
	face coords.Face
}

type dot struct {
	U    float64      `json:"u"`
	V    float64      `json:"v"`
	Kind catalog.Kind `json:"kind"`
}

// getDays answers GET /days.
func (s *Server) getDays(w http.ResponseWriter, r *http.Request) error {
	days, err := s.days(r)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, map[string]any{"days": days})
	return nil
}

func (s *Server) days(r *http.Request) ([]*shoreDay, error) {
	read := s.keeper.Store.Read(r.Context())
	found, err := read.BearingsBetween(time.Date(1600, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(2201, 1, 1, 0, 0, 0, 0, time.UTC))
	if err != nil {
		return nil, err
	}
	days := []*shoreDay{}
	byKey := map[string]*shoreDay{}
	for _, b := range found {
		f := b.Frame
		if f.Reference || !f.HasFile() {
			continue
		}
		key := dayKey(f)
		d := byKey[key]
		if d == nil {
			at := f.Middle(b.ClockCorrectionS)
			d = &shoreDay{ID: key, Title: at.Format("2 January 2006"), Short: at.Format("2 Jan"), Date: at.Format(time.DateOnly), DayNumber: float64(at.Unix()) / 86400,
				Frame: f.ID.String(), role: f.Role, face: ephemeris.At(at), Dots: []dot{}}
			byKey[key] = d
			days = append(days, d)
		}
		d.Frames = append(d.Frames, f.ID.String())
		if d.role == catalog.RoleLimb && f.Role != catalog.RoleLimb { // the disc exposure is the one to open
			d.Frame, d.role = f.ID.String(), f.Role
		}
	}
	entries, err := read.Entries(store.Query{})
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		d := byKey[dayKey(e.Frame)]
		if d == nil {
			continue
		}
		d.Marks++
		if at, ok := dotOf(e, d.face); ok {
			d.Dots = append(d.Dots, at)
		}
	}
	return days, nil
}

// dotOf is a mark on a small disc with solar north up.
func dotOf(e catalog.Entry, face coords.Face) (dot, bool) {
	if edge := e.Position.Edge; edge != nil {
		sin, cos := (edge.PA - face.P).Sincos() // from solar north through east, which is left
		return dot{U: round(-sin, 1000), V: round(cos, 1000), Kind: e.Mark.Kind}, true
	}
	if p := e.Position.Polar; p != nil {
		sin, cos := (p.PA - face.P).Sincos()
		return dot{U: round(-p.R*sin, 1000), V: round(p.R*cos, 1000), Kind: e.Mark.Kind}, true
	}
	return dot{}, false
}
