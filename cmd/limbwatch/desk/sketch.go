package desk

import (
	"fmt"
	"math"
	"net/http"
	"strconv"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// getGeometry answers GET /frames/{frame}/geometry. Another disc (x, y, r) or north
// (north_deg, mirrored) can be tried without keeping it; Moves then says how far
// the marks of the frame would go.
func (s *Server) getGeometry(w http.ResponseWriter, r *http.Request) error {
	kept, err := s.seen(r)
	if err != nil {
		return err
	}
	kind, err := parseGrid(r.FormValue("grid"))
	if err != nil {
		return bad(err.Error(), "leave grid out for none")
	}
	another, err := triedIn(r, [3]string{"x", "y", "r"})
	if err != nil {
		return err
	}
	shown, changed, err := another.on(kept)
	if err != nil {
		return err
	}
	if !shown.discKnown {
		return &userError{status: http.StatusConflict, what: "frame " + kept.frame.ID.String() + " has no disc yet", hint: "find it, or click points of the limb"}
	}
	g := draw(shown.View, shown.northKnown, kind)
	if changed && kept.northKnown {
		marks, err := s.keeper.Store.Read(r.Context()).MarksOn(kept.frame.ID)
		if err != nil {
			return err
		}
		g.Moves = moves(marks, kept.View, shown.View)
	}
	answer(w, http.StatusOK, g)
	return nil
}

// tried is another disc or north than those that are kept, as the observer turns and
// drags them.
//
//	Disc      centre x, y and radius, in pixels; nil: the kept one
//	NorthDeg  of celestial north, counter-clockwise from up; nil: the kept one
type tried struct {
	Disc          *[3]float64 `json:"disc,omitempty"`
	NorthDeg      *float64    `json:"north_deg,omitempty"`
	Mirrored      bool        `json:"mirrored,omitempty"`
	SigmaNorthDeg float64     `json:"sigma_north_deg,omitempty"` // 0: as by hand
}

// triedIn reads it out of a request; the disc's three figures go by the names given.
func triedIn(r *http.Request, disc [3]string) (t tried, err error) {
	number := func(name string) *float64 {
		text := r.FormValue(name)
		if text == "" || err != nil {
			return nil
		}
		value, wrong := strconv.ParseFloat(text, 64)
		if wrong != nil {
			err = bad(fmt.Sprintf("%s %q", name, text), "want a number")
			return nil
		}
		return &value
	}
	if x, y, radius := number(disc[0]), number(disc[1]), number(disc[2]); x != nil && y != nil && radius != nil {
		t.Disc = &[3]float64{*x, *y, *radius}
	}
	t.NorthDeg, t.Mirrored = number("north_deg"), r.FormValue("mirrored") == "true"
	if sigma := number("sigma_north_deg"); sigma != nil {
		t.SigmaNorthDeg = *sigma
	}
	return t, err
}

// on is the view as it would be with what is tried; changed says whether anything is.
func (t tried) on(v viewed) (_ viewed, changed bool, err error) {
	within := func(what string, value, low, high float64) {
		if err == nil && !(value >= low && value <= high) {
			err = bad(fmt.Sprintf("%s %g", what, value), fmt.Sprintf("want a number from %g to %g", low, high))
		}
	}
	if d := t.Disc; d != nil {
		within("x of the disc", d[0], -2e5, 2e5)
		within("y of the disc", d[1], -2e5, 2e5)
		within("radius of the disc", d[2], 3, 1e5)
		const variance = handSigmaPx * handSigmaPx
		v.Limb = coords.Limb{Centre: coords.Pixel{X: d[0], Y: d[1]}, RadiusPx: d[2], Cov: coords.LimbCovariance{XX: variance, YY: variance, RR: variance}}
		v.discKnown, changed = true, true
	}
	if t.NorthDeg != nil {
		within("north_deg", *t.NorthDeg, -720, 720)
		within("sigma_north_deg", t.SigmaNorthDeg, 0, 180)
		sigma := coords.Angle(t.SigmaNorthDeg) * coords.Degree
		if sigma == 0 {
			sigma = handSigma
		}
		v.North = coords.North{Angle: coords.Angle(*t.NorthDeg) * coords.Degree, Mirrored: t.Mirrored, Sigma: sigma}
		v.northKnown, changed = v.discKnown, true
	}
	return v, changed, err
}

// moves says in words how far marks move from one view to another.
func moves(marks []catalog.Mark, from, to disc.View) string {
	count, farthest := 0, coords.Angle(0)
	for _, m := range marks {
		for _, p := range m.Geometry.Pixels {
			a, b := from.Place(p, 0, noHeight).Photosphere, to.Place(p, 0, noHeight).Photosphere
			if a.Known && b.Known {
				farthest = max(farthest, a.Distance(b.Heliographic))
			}
		}
		if len(m.Geometry.Pixels) > 0 {
			count++
		}
	}
	if count == 0 {
		return ""
	}
	if farthest < 0.05*coords.Degree {
		return "no mark moves by 0.1°"
	}
	return fmt.Sprintf("%d %s, by up to %.1f°", count, plural(count, "mark moves", "marks move"), math.Abs(farthest.Degrees()))
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
