package observe

import (
	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/disc"
)

// Vertices reads every vertex of a mark as Derive reads its representative point:
// spines and outlines on the Sun, computed when they are wanted. Errors are those of
// ViewOf.
func Vertices(b catalog.Bearings, m catalog.Mark) ([]disc.Place, error) {
	at := instantOf(b)
	if at.err != nil {
		return nil, at.err
	}
	g, height := m.Geometry, HeightOf(m)
	places := make([]disc.Place, 0, g.Vertices())
	switch g.Form() {
	case catalog.FormPlaces:
		view := disc.View{Face: at.face}.Sight()
		for _, p := range g.Places {
			polar := view.ProjectPolar(p.On(at.face.L0), 0)
			place := disc.Place{}
			if polar.Visible {
				place = view.PlacePolar(polar.PositionAngle, min(polar.R, 1), 0, height)
			}
			places = append(places, place)
		}
	case catalog.FormPolar:
		view := at.paper(g).Sight()
		for _, p := range g.Polar {
			places = append(places, view.PlacePolar(p.PA, p.R, g.SigmaR, height))
		}
	default:
		view, err := at.view(b)
		if err != nil {
			return nil, err
		}
		sight := view.Sight()
		for _, p := range g.Pixels {
			places = append(places, sight.Place(p, g.SigmaClickPx, height))
		}
	}
	return places, nil
}

// Pixels gives the vertices of a mark in the picture of its own or of another
// frame, as on the photosphere, and which of them are visible there; a vertex
// beyond the limb stays where it stands in the sky. The Sun's rotation is not
// counted: the other frame should be of the same hour.
func Pixels(b catalog.Bearings, m catalog.Mark, other disc.View) (points []coords.Pixel, visible []bool, err error) {
	places, err := Vertices(b, m)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range places {
		at, seen := coords.Pixel{}, false
		switch {
		case p.Photosphere.Known:
			at, seen = other.Project(p.Photosphere.Heliographic, 0)
		case p.Where != disc.Nowhere:
			right, down := other.North.Direction(p.PositionAngle)
			// How far above the photosphere it stands, in radii of the other limb.
			r := (1 + p.Beyond.AboveSunMm/coords.SolarRadiusMm) / (1 + other.Layer.HeightMm/coords.SolarRadiusMm)
			at, seen = other.Limb.At(r*right, r*down), true
		}
		points, visible = append(points, at), append(visible, seen)
	}
	return points, visible, nil
}
