package observe

import (
	"context"
	"fmt"
	"math"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/rotation"
)

// FeatureRate is how fast one passage's feature turned, from its own positions alone:
// the slope of longitude against time, sidereal.
type FeatureRate struct {
	Passage          catalog.PassageID
	Name             string
	Kind             catalog.Kind
	Lat              coords.Angle
	DegPerDay, Sigma float64
	Sightings        int
	Days             float64
}

// Rates are an observer's own rotation curve for one kind of feature.
//
//	Law      A + B sin² b, fitted to the features, with standard errors; meaningless
//	         unless Fitted
//	Scatter  spread of single features about it, degrees a day, measuring errors apart
type Rates struct {
	Features []FeatureRate
	Fitted   bool
	Law      rotation.Law
	Scatter  float64
}

// What a passage must have to give a rate: the height of a feature bends its path
// near the limb (Vršnak et al. 1999), so only sightings near enough to the meridian
// count, and a short passage says nothing.
const (
	rateWithinCMD = 60 * coords.Degree
	rateSightings = 3
	rateDays      = 2.5
	rateFeatures  = 6 // for a curve
)

// OwnRates measures the rotation of a kind of feature from the observer's own
// passages. A zero range means all.
func (k Keeper) OwnRates(ctx context.Context, kind catalog.Kind, from, to time.Time) (Rates, error) {
	passages := map[catalog.PassageID][]catalog.Entry{}
	var order []catalog.PassageID
	names := map[catalog.PassageID]string{}
	err := k.Store.Read(ctx).EachEntry(store.Query{From: from, To: to, Kinds: []catalog.Kind{kind}}, func(e catalog.Entry) error {
		place, ok := e.Position.Reading()
		if !ok || e.Join == nil || ephemeris.At(e.Position.UTC).CMD(place.Heliographic).Abs() > rateWithinCMD {
			return nil
		}
		id := e.Join.Passage
		if passages[id] == nil {
			order = append(order, id)
		}
		passages[id], names[id] = append(passages[id], e), e.PassageName
		return nil
	})
	if err != nil {
		return Rates{}, err
	}
	var rates Rates
	for _, id := range order {
		if f, ok := rateOf(kind, passages[id]); ok {
			f.Passage, f.Name = id, names[id]
			rates.Features = append(rates.Features, f)
		}
	}
	rates.fit(kind)
	return rates, nil
}

// rateOf is the slope of a passage's longitude against time by weighted least
// squares.
func rateOf(kind catalog.Kind, entries []catalog.Entry) (FeatureRate, bool) {
	if len(entries) < rateSightings {
		return FeatureRate{}, false
	}
	first := entries[0].Position.UTC
	reference, _ := entries[0].Position.Reading()
	prior := rotation.PriorOf(kind.String())
	var w, wt, wx, wtt, wtx, wb float64
	for _, e := range entries {
		place, _ := e.Position.Reading()
		t := rotation.Days(first, e.Position.UTC)
		x := (place.L - reference.L).Wrap180().Degrees()
		centre := prior.CentreSigma(0).Degrees()
		weight := 1 / (sq(place.Cov.SigmaL().Degrees()) + sq(centre))
		w, wt, wx, wtt, wtx = w+weight, wt+weight*t, wx+weight*x, wtt+weight*t*t, wtx+weight*t*x
		wb += weight * place.B.Degrees()
	}
	days := rotation.Days(first, entries[len(entries)-1].Position.UTC)
	det := w*wtt - wt*wt
	if days < rateDays || !(det > 0) {
		return FeatureRate{}, false
	}
	return FeatureRate{
		Kind: kind, Lat: coords.Angle(wb/w) * coords.Degree, Sightings: len(entries), Days: days,
		DegPerDay: (w*wtx-wt*wx)/det + ephemeris.CarringtonDegPerDay, Sigma: math.Sqrt(w / det),
	}, true
}

func sq(x float64) float64 { return x * x }

// fit fits A + B sin² b to the features' rates. What they scatter more than their
// errors say is taken as a spread of their own, by which each is weighted the less.
func (r *Rates) fit(kind catalog.Kind) {
	if len(r.Features) < rateFeatures {
		return
	}
	for range 30 {
		var w, ws, wy, wss, wsy float64
		for _, f := range r.Features {
			s := sq(f.Lat.Sin())
			weight := 1 / (sq(f.Sigma) + sq(r.Scatter))
			w, ws, wy, wss, wsy = w+weight, ws+weight*s, wy+weight*f.DegPerDay, wss+weight*s*s, wsy+weight*s*f.DegPerDay
		}
		det := w*wss - ws*ws
		if !(det > 1e-9*w*w) {
			return // all at one latitude: no curve
		}
		a, b := (wss*wy-ws*wsy)/det, (w*wsy-ws*wy)/det
		r.Law = rotation.Law{
			Name: "own", Tracer: kind.String(), Source: fmt.Sprintf("%d passages of this catalogue", len(r.Features)),
			A: a, B: b, SigmaA: math.Sqrt(wss / det), SigmaB: math.Sqrt(w / det),
		}
		r.Fitted = true
		var excess, sum float64
		for _, f := range r.Features {
			weight := 1 / (sq(f.Sigma) + sq(r.Scatter))
			excess += weight * (sq(f.DegPerDay-a-b*sq(f.Lat.Sin())) - sq(f.Sigma))
			sum += weight
		}
		next := math.Sqrt(max(0, excess/sum))
		if math.Abs(next-r.Scatter) < 1e-4 {
			return
		}
		r.Scatter = (r.Scatter + next) / 2
	}
}
