package desk

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"slices"
	"strconv"

	"limbwatch/catalog"
	"limbwatch/catalog/observe"
	"limbwatch/coords"
	"limbwatch/coords/picture"
)

// pixelsJSON says what a picture's levels are, before they are sent.
type pixelsJSON struct {
	WidthPx  int         `json:"width_px"`
	HeightPx int         `json:"height_px"`
	Depth    string      `json:"depth"`
	Zero     float64     `json:"zero"` // level = (grey − zero) · scale
	Scale    float64     `json:"scale"`
	Levels   []levelJSON `json:"levels"`
	light
}

type levelJSON struct {
	Level  int `json:"level"`
	Width  int `json:"width"`
	Height int `json:"height"`
}

// picture opens a frame's own file, and no other: the catalogue's path, holding
// what it held when it was added.
func (s *Server) picture(ctx context.Context, f catalog.Frame) (*exposed, error) {
	if !f.HasFile() {
		return nil, &userError{status: http.StatusNotFound, what: f.ID.String() + " has no picture", hint: "it is a record of figures only"}
	}
	return s.gallery.picture(ctx, f.SHA256+"/"+f.Channel, func() (*picture.Picture, error) {
		// The work goes on for the others who wait when this request is given up.
		pic, _, err := s.keeper.OpenFrame(context.WithoutCancel(ctx), f.ID)
		if err != nil {
			return nil, explainFile(err)
		}
		return pic, nil
	})
}

// explainFile says what to do about a frame's file that is not what it was.
func explainFile(err error) error {
	if changed, ok := errors.AsType[*observe.ChangedFileError](err); ok {
		return &userError{status: http.StatusConflict, what: err.Error(),
			hint: "put the old file back, or add " + baseName(changed.Frame.Path) + " as a frame of its own"}
	}
	if errors.Is(err, fs.ErrNotExist) {
		return &userError{status: http.StatusNotFound, what: err.Error(), hint: "was the file moved? Add it again from its new place: it is known by what it holds"}
	}
	return err
}

func (e *exposed) describe(limb *coords.Limb) pixelsJSON {
	out := pixelsJSON{WidthPx: e.full.width, HeightPx: e.full.height, Depth: e.pic.Depth.String(), Zero: e.depth.Zero, Scale: e.depth.Scale,
		Levels: []levelJSON{{0, e.full.width, e.full.height}}, light: lightOf(e.full, limb)}
	if e.first > 0 {
		out.Levels = append(out.Levels, levelJSON{e.first, e.small.width, e.small.height})
	}
	return out
}

// send writes one of the picture's levels.
func (e *exposed) send(w http.ResponseWriter, r *http.Request) error {
	n, err := strconv.Atoi(r.PathValue("level"))
	var l level
	switch {
	case err == nil && n == 0:
		l = e.full
	case err == nil && n == e.first:
		l = e.small
	default:
		return bad(fmt.Sprintf("level %q", r.PathValue("level")), "the picture's levels are listed without it")
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	w.Header().Set("Content-Length", strconv.Itoa(2*len(l.grey)))
	for piece := range slices.Chunk(l.grey, 1<<18) {
		if _, err := w.Write(littleEndian(piece)); err != nil {
			return context.Canceled // the browser went away; nobody is left to be told
		}
	}
	return nil
}

// getPixels answers GET /frames/{frame}/pixels.
func (s *Server) getPixels(w http.ResponseWriter, r *http.Request) error {
	v, err := s.seen(r)
	if err != nil {
		return err
	}
	e, err := s.picture(r.Context(), v.frame)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, e.describe(v.limb()))
	return nil
}

// limb is the limb when there is one.
func (v viewed) limb() *coords.Limb {
	if !v.discKnown {
		return nil
	}
	return &v.Limb
}

// getLevel answers GET /frames/{frame}/pixels/{level}.
func (s *Server) getLevel(w http.ResponseWriter, r *http.Request) error {
	v, err := s.seen(r)
	if err != nil {
		return err
	}
	e, err := s.picture(r.Context(), v.frame)
	if err != nil {
		return err
	}
	return e.send(w, r)
}

// getDarkening answers GET /frames/{frame}/darkening.
func (s *Server) getDarkening(w http.ResponseWriter, r *http.Request) error {
	v, err := s.viewed(r)
	if err != nil {
		return err
	}
	e, err := s.picture(r.Context(), v.frame)
	if err != nil {
		return err
	}
	answer(w, http.StatusOK, map[string]any{"gains": gains(e.full, v.Limb)})
	return nil
}
