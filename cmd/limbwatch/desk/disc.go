package desk

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/limb"
)

// revised is the version of a thing that a change was made from.
type revised struct {
	Revision revision `json:"revision"`
}

// revision is a version that was seen, from 0. A negative one, which inside means
// whichever is the newest, nobody has seen.
type revision int64

// UnmarshalJSON reads a whole number that is not negative.
func (r *revision) UnmarshalJSON(text []byte) error {
	n, err := strconv.ParseInt(string(text), 10, 64)
	if err != nil || n < 0 {
		return fmt.Errorf("revision %s: want that of the thing as it was seen, 0 or more", text)
	}
	*r = revision(n)
	return nil
}

// postDiscFind answers POST /frames/{frame}/disc/find.
func (s *Server) postDiscFind(w http.ResponseWriter, r *http.Request) error {
	var in revised
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		_, err = s.keeper.FitDisc(r.Context(), id, limb.Options{}, nil, int64(in.Revision))
	}
	if _, ok := errors.AsType[*limb.RefusedError](err); ok {
		_, why := explain(err)
		s.refused(id, why)
	}
	if err != nil {
		return err
	}
	return s.done(w, r)
}

// postDiscCircle answers POST /frames/{frame}/disc/circle.
func (s *Server) postDiscCircle(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		revised
		Number int `json:"number"`
	}
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		_, err = s.keeper.TakeCircle(r.Context(), id, in.Number, nil, int64(in.Revision))
	}
	if err != nil {
		return err
	}
	return s.done(w, r)
}

// postDiscPoints answers POST /frames/{frame}/disc/points.
func (s *Server) postDiscPoints(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		revised
		Points       []catalog.Pair `json:"points"`
		SigmaClickPx float64        `json:"sigma_click_px"`
	}
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		_, err = s.keeper.SetLimbPoints(r.Context(), id, pixels(in.Points), limb.Options{SigmaClickPx: in.SigmaClickPx}, nil, int64(in.Revision))
	}
	if err != nil {
		return err
	}
	return s.done(w, r)
}

// handSigmaPx is how well a circle is laid on the limb by hand, along each axis and
// in the radius (common practice, no source).
const handSigmaPx = 1.0

// postDiscTyped answers POST /frames/{frame}/disc/typed.
func (s *Server) postDiscTyped(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		revised
		XPx      *float64 `json:"x_px"`
		YPx      *float64 `json:"y_px"`
		RadiusPx *float64 `json:"radius_px"`
		SigmaPx  float64  `json:"sigma_px"`
	}
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err != nil {
		return err
	}
	if in.XPx == nil || in.YPx == nil || in.RadiusPx == nil {
		return bad("the circle needs x_px, y_px and radius_px", "nothing was changed")
	}
	if in.SigmaPx == 0 {
		in.SigmaPx = handSigmaPx
	}
	if !(in.SigmaPx > 0 && in.SigmaPx < 1e4) {
		return bad(fmt.Sprintf("error of the circle %g px: want more than 0, less than 10000", in.SigmaPx), "leave sigma_px out for 1 px")
	}
	variance := in.SigmaPx * in.SigmaPx
	circle := coords.Limb{
		Centre: coords.Pixel{X: *in.XPx, Y: *in.YPx}, RadiusPx: *in.RadiusPx,
		Cov: coords.LimbCovariance{XX: variance, YY: variance, RR: variance},
	}
	kept := catalog.Disc{Frame: id, Limb: circle, Method: catalog.DiscTyped, LayerFrom: catalog.LayerPrior}
	if err := kept.Validate(); err != nil {
		return bad(err.Error(), "nothing was changed")
	}
	if _, err := s.keeper.SetCircle(r.Context(), id, circle, nil, int64(in.Revision)); err != nil {
		return err
	}
	return s.done(w, r)
}

// postDiscAccept answers POST /frames/{frame}/disc/accept.
func (s *Server) postDiscAccept(w http.ResponseWriter, r *http.Request) error {
	var in revised
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		_, err = s.keeper.AcceptDisc(r.Context(), id, int64(in.Revision))
	}
	if err != nil {
		return err
	}
	return s.done(w, r)
}

// postDiscRefuse answers POST /frames/{frame}/disc/refuse.
func (s *Server) postDiscRefuse(w http.ResponseWriter, r *http.Request) error {
	var in revised
	id, err := frameOf(r)
	if err == nil {
		err = take(w, r, &in)
	}
	if err == nil {
		err = s.keeper.RemoveDisc(r.Context(), id, int64(in.Revision))
	}
	if err != nil {
		return err
	}
	return s.done(w, r)
}

// residuals are strokes from the kept limb to where the picture has it, longer than
// they are by Times.
type residuals struct {
	Times float64          `json:"times"`
	Lines []residualStroke `json:"lines"`
}

type residualStroke struct {
	Points [2]xy   `json:"points"`
	OutPx  float64 `json:"out_px"`
	Used   bool    `json:"used"`
}

// getResiduals answers GET /frames/{frame}/disc/residuals. The limb is followed in
// the picture anew, so that a disc that was typed or taken from a header is held
// against it as well.
func (s *Server) getResiduals(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	e, err := s.picture(r.Context(), v.frame)
	if err != nil {
		return err
	}
	fit, err := limb.Find(e.pic, limb.Options{})
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, strokes(fit, v.Limb))
	return nil
}

// strokes holds the points of a fit against another limb.
func strokes(fit limb.Fit, kept coords.Limb) residuals {
	out := residuals{Lines: []residualStroke{}}
	var sizes []float64
	for _, p := range fit.Residuals {
		sin, cos := p.Direction.Sincos()
		far := 1 + p.OutPx/fit.Limb.RadiusPx
		seen := fit.Limb.At(-sin*far, -cos*far)
		u, v := kept.Unit(seen)
		r := math.Hypot(u, v)
		if r == 0 {
			continue
		}
		outPx := (r - 1) * kept.RadiusPx
		out.Lines = append(out.Lines, residualStroke{Points: [2]xy{{u / r, v / r}}, OutPx: outPx, Used: p.Used})
		if p.Used {
			sizes = append(sizes, math.Abs(outPx))
		}
	}
	// So long that nineteen in twenty stay within 6 % of the radius.
	out.Times = 1
	if len(sizes) > 0 {
		slices.Sort(sizes)
		out.Times = min(500, max(1, math.Round(0.06*kept.RadiusPx/max(0.02, sizes[len(sizes)*19/20]))))
	}
	for i := range out.Lines {
		l := &out.Lines[i]
		u, v := l.Points[0][0], l.Points[0][1]
		far := 1 + max(-0.3, min(0.3, out.Times*l.OutPx/kept.RadiusPx))
		l.Points = [2]xy{point(kept.At(u, v)), point(kept.At(u*far, v*far))}
	}
	return out
}
