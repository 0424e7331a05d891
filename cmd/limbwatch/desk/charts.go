package desk

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/catalog/gather"
	"limbwatch/catalog/store"
	"limbwatch/coords/ephemeris"
)

// chartRequest is what a chart is asked to show.
//
//	frame  the picture that is shown: its disc, its rotation, the end of a span
type chartRequest struct {
	*http.Request
	frame *viewed
	opts  chart.Options
}

// drawing is a chart that is ready to be drawn.
type drawing func(chart.Options) (*canvas.Canvas, error)

// getChart answers GET /charts/{chart} with an SVG, drawn by the same hand as "limbwatch
// chart" draws it. What stands for a mark, a frame, a passage or a day says so in its
// data- attributes (see package chart).
func (s *Server) getChart(w http.ResponseWriter, r *http.Request) error {
	charts := map[string]func(chartRequest) (drawing, error){
		"disc": s.discChart, "map": s.mapChart, "latitudes": s.latitudesChart, "numbers": s.numbersChart,
		"passage": s.passageChart, "rates": s.ratesChart, "coming": s.comingChart,
	}
	gathered, known := charts[r.PathValue("chart")]
	if !known {
		return &userError{status: http.StatusNotFound, what: fmt.Sprintf("no chart %q", r.PathValue("chart")), hint: "there are disc, map, latitudes, numbers, passage, rates and coming"}
	}
	asked := chartRequest{Request: r}
	var err error
	if asked.opts, err = sheetOf(r); err != nil {
		return err
	}
	asked.opts.Program = s.deps.Program
	if text := r.FormValue("frame"); text != "" {
		id, err := catalog.ParseFrameID(text)
		if err != nil {
			return bad(err.Error(), "frames are listed at "+apiPrefix+"days")
		}
		v, err := s.seenFrame(r, id)
		if err != nil {
			return err
		}
		asked.frame = &v
	}
	draw, err := gathered(asked)
	if err != nil {
		return err
	}
	drawn, err := draw(asked.opts)
	if err != nil { // what was gathered shows nothing
		return &userError{status: http.StatusUnprocessableEntity, what: err.Error(), hint: "choose another chart, or a longer span"}
	}
	var file bytes.Buffer
	if err := chart.Write(&file, drawn, chart.SVG, asked.opts); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "image/svg+xml; charset=utf-8")
	w.Write(file.Bytes())
	return nil
}

// sheetOf reads the theme and the width of a chart.
func sheetOf(r *http.Request) (o chart.Options, err error) {
	if o.Theme, err = chart.ParseTheme(r.FormValue("theme")); err != nil {
		return o, bad(err.Error(), "leave theme out for paper")
	}
	width, err := whole(r, "width", 0, 320, 4000)
	o.Width = float64(width)
	return o, err
}

// whole reads a whole number; otherwise when nothing is said.
func whole(r *http.Request, name string, otherwise, low, high int) (int, error) {
	text := r.FormValue(name)
	if text == "" {
		return otherwise, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		return 0, bad(fmt.Sprintf("%s %q", name, text), fmt.Sprintf("want a whole number from %d to %d", low, high))
	}
	return n, nil
}

func (s *Server) discChart(r chartRequest) (drawing, error) {
	if r.frame == nil {
		return nil, bad("no frame to draw", "send frame, as F3")
	}
	up, known := map[string]chart.Up{"": chart.SolarNorthUp, "sun": chart.SolarNorthUp, "sky": chart.CelestialNorthUp, "taken": chart.AsTaken}[r.FormValue("up")]
	if !known {
		return nil, bad(fmt.Sprintf("up %q", r.FormValue("up")), "want sun, sky or taken")
	}
	in, err := gather.Disc(r.Context(), s.keeper, gather.DiscOptions{Frame: r.frame.frame.ID, Reduced: true, Up: up, Carrington: r.FormValue("grid") == string(gridCarrington)})
	if placed, not := errors.AsType[*gather.NotPlacedError](err); not {
		return nil, &userError{status: http.StatusConflict, what: placed.Error(), hint: "answer the questions on the page, disc and north, first"}
	}
	return func(o chart.Options) (*canvas.Canvas, error) { return chart.Disc(in, o) }, explainFile(err)
}

func (s *Server) mapChart(r chartRequest) (drawing, error) {
	shown := 0
	if r.frame != nil {
		shown = int(ephemeris.Rotation(r.frame.middle))
	}
	rotation, err := whole(r.Request, "rotation", shown, 1, 6000)
	if err != nil {
		return nil, err
	}
	in, err := gather.Map(r.Context(), s.keeper, gather.MapOptions{Rotation: rotation, Woven: r.FormValue("woven") == "true"})
	return func(o chart.Options) (*canvas.Canvas, error) { return chart.Map(in, o) }, explainFile(err)
}

// span is the stretch of time of a chart: so many days up to the end of the shown
// frame's, all, or what package gather fills in.
func (s *Server) span(r chartRequest) (gather.Span, error) {
	if r.FormValue("days") == "all" {
		frames, err := s.keeper.Store.Read(r.Context()).FramesBetween(time.Time{}, s.keeper.Now().AddDate(1, 0, 0))
		if err != nil || len(frames) == 0 {
			return gather.Span{}, err
		}
		return gather.Span{From: catalog.DayOf(frames[0].Middle(0))}, nil
	}
	days, err := whole(r.Request, "days", 0, 1, 36_600)
	if err != nil || days == 0 {
		return gather.Span{}, err
	}
	if r.frame == nil {
		return gather.Span{}, bad("days without a frame", "send frame, with whose day the span ends")
	}
	to := catalog.DayOf(r.frame.middle).AddDate(0, 0, 1)
	return gather.Span{From: to.AddDate(0, 0, -days), To: to}, nil
}

func (s *Server) latitudesChart(r chartRequest) (drawing, error) {
	span, err := s.span(r)
	if err != nil {
		return nil, err
	}
	in, err := gather.Latitudes(r.Context(), s.keeper, gather.LatitudesOptions{Span: span})
	return func(o chart.Options) (*canvas.Canvas, error) { return chart.Latitudes(in, o) }, err
}

func (s *Server) numbersChart(r chartRequest) (drawing, error) {
	span, err := s.span(r)
	if err != nil {
		return nil, err
	}
	in, err := gather.Numbers(r.Context(), s.keeper, gather.NumbersOptions{Span: span})
	return func(o chart.Options) (*canvas.Canvas, error) { return chart.Numbers(in, o) }, err
}

func (s *Server) passageChart(r chartRequest) (drawing, error) {
	p, err := s.passageOf(r.Request, r.FormValue("passage"))
	if err != nil {
		return nil, err
	}
	in, err := gather.Passage(r.Context(), s.keeper, gather.PassageOptions{Passage: p.ID})
	if err != nil {
		if _, unplaced := errors.AsType[*store.InvalidError](err); unplaced { // it is there, but none of its marks has a place
			return nil, &userError{status: http.StatusUnprocessableEntity, what: err.Error(), hint: "give its pictures a disc and a north"}
		}
		return nil, err
	}
	return func(o chart.Options) (*canvas.Canvas, error) { return chart.Passage(in, o) }, nil
}

func (s *Server) ratesChart(r chartRequest) (drawing, error) {
	kind := catalog.Sunspot
	if text := r.FormValue("kind"); text != "" {
		var err error
		if kind, err = catalog.ParseKind(text); err != nil {
			return nil, bad(err.Error(), "leave kind out for sunspot")
		}
	}
	in, err := gather.Rates(r.Context(), s.keeper, gather.RatesOptions{Kind: kind})
	return func(o chart.Options) (*canvas.Canvas, error) { return chart.Rates(in, o) }, err
}

// likelyStill leaves out of the calendar what is less likely than this still to be, as
// "limbwatch chart coming" does.
const likelyStill = 0.2

func (s *Server) comingChart(r chartRequest) (drawing, error) {
	days, err := whole(r.Request, "days", 28, 1, 120)
	if err != nil {
		return nil, err
	}
	o := gather.ComingOptions{Days: days, MinAlive: likelyStill}
	if r.frame != nil {
		o.At = r.frame.middle
	}
	in, err := gather.Coming(r.Context(), s.keeper, o)
	return func(o chart.Options) (*canvas.Canvas, error) { return chart.Calendar(in, o) }, err
}
