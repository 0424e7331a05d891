package desk

import (
	"net/http"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/read"
)

// shoreDay is a day as the shore shows it.
//
//	UTC        the middle of its first exposure
//	DayNumber  the same in days since 1970, for true spacing
//	Date       its UT day, as 2026-03-14
//	Frame      the picture to open
//	Dots       its marks on a disc of radius 1: u to the right (west), v up (solar north)
type shoreDay struct {
	ID        string   `json:"id"`
	Title     string   `json:"title"`
	Short     string   `json:"short"`
	Date      string   `json:"date"`
	UTC       string   `json:"utc"`
	DayNumber float64  `json:"day_number"`
	Frame     string   `json:"frame"`
	Frames    []string `json:"frames"`
	Dots      []dot    `json:"dots"`
	Marks     int      `json:"marks"`
}

type dot struct {
	U    float64      `json:"u"`
	V    float64      `json:"v"`
	Kind catalog.Kind `json:"kind"`
}

// daysAtOnce is how many days are told in one answer: some months of who observes daily.
const daysAtOnce = 128

// getDays answers GET /days: the newest days, or those before or from a time, or those
// around a frame or a UT day.
func (s *Server) getDays(w http.ResponseWriter, r *http.Request) error {
	v := s.keeper.Store.Read(r.Context())
	version, err := v.Newest()
	if err != nil {
		return err
	}
	if s.unchanged(w, r, version) {
		return nil
	}
	q := r.URL.Query()
	days := read.Days{Days: []read.Day{}}
	at := func(name string) time.Time {
		var t time.Time
		if err == nil {
			if t, err = time.Parse(time.RFC3339, q.Get(name)); err != nil {
				err = bad(name+" "+q.Get(name)+" is no time", "write it as 2026-03-14T09:12:00Z")
			}
		}
		return t
	}
	switch {
	case q.Has("before"):
		if before := at("before"); err == nil {
			days, err = read.DaysBefore(v, before, daysAtOnce)
		}
	case q.Has("from"):
		if from := at("from"); err == nil {
			days, err = read.DaysFrom(v, from, daysAtOnce)
		}
	case q.Has("day"):
		var day time.Time
		if day, err = time.Parse(time.DateOnly, q.Get("day")); err != nil {
			return bad("day "+q.Get("day")+" is no day", "write it as 2026-03-14")
		}
		days, err = read.DaysAround(v, day, daysAtOnce)
	case q.Has("frame"):
		var id catalog.FrameID
		if id, err = catalog.ParseFrameID(q.Get("frame")); err != nil {
			return bad(err.Error(), "frames are listed at "+apiPrefix+"days")
		}
		var shown viewed
		if shown, err = s.seenFrame(r, id); isMissing(err) {
			days, err = read.DaysBefore(v, farFuture, daysAtOnce)
		} else if err == nil {
			days, err = read.DaysAround(v, shown.middle, daysAtOnce)
		}
	default:
		days, err = read.DaysBefore(v, farFuture, daysAtOnce)
		days.Later = false
	}
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, map[string]any{"version": int64(version), "days": describeDays(days.Days), "from": millis(days.From), "to": millis(days.To), "earlier": days.Earlier, "later": days.Later})
	return nil
}

// farFuture is later than any picture may be.
var farFuture = time.Date(2201, 1, 1, 0, 0, 0, 0, time.UTC)

func millis(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

func describeDays(days []read.Day) []shoreDay {
	out := make([]shoreDay, len(days))
	for i, d := range days {
		at := d.Middle
		out[i] = shoreDay{ID: d.Key(), Title: at.Format("2 January 2006"), Short: at.Format("2 Jan"), Date: at.Format(time.DateOnly), UTC: millis(at),
			DayNumber: float64(at.UnixMilli()) / 86400_000, Frame: d.Open.String(), Marks: d.Marks, Dots: make([]dot, len(d.Dots))}
		for _, f := range d.Frames {
			out[i].Frames = append(out[i].Frames, f.String())
		}
		for k, at := range d.Dots {
			out[i].Dots[k] = dot{U: round(at.U, 1000), V: round(at.V, 1000), Kind: at.Kind}
		}
	}
	return out
}
