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
//
//	Rate      every join counted by its odds
//	AllSure   as if all its joins were certain
//	Odds      that they all hold
type FeatureRate struct {
	Passage catalog.PassageID
	Name    string
	Kind    catalog.Kind
	Lat     coords.Angle
	Rate
	AllSure   Rate
	Odds      float64
	Sightings int
	Days      float64
}

// Rate is a sidereal rate with its standard error.
type Rate struct{ DegPerDay, Sigma float64 }

// Curve is a rotation curve.
//
//	Law      A + B sin² b, fitted to the features, with standard errors; meaningless
//	         unless Fitted
//	Scatter  spread of single features about it, degrees a day, measuring errors apart
type Curve struct {
	Fitted  bool
	Law     rotation.Law
	Scatter float64
}

// Rates are an observer's own rotation curve for one kind of feature: with every join
// counted by its odds, and as if all were certain. Joins are made with a law in mind:
// where the two disagree, the doubtful joins decide.
type Rates struct {
	Features []FeatureRate
	Curve
	AllSure Curve
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
	passages := map[catalog.PassageID]*ratePassage{}
	var order []catalog.PassageID
	// Marks that do not count here, of another kind or near the limb, have joins between
	// those that do.
	err := k.Store.Read(ctx).EachEntry(store.Query{From: from, To: to}, func(e catalog.Entry) error {
		if e.Join == nil {
			return nil
		}
		id := e.Join.Passage
		p := passages[id]
		if p == nil {
			p = &ratePassage{name: e.PassageName, odds: 1}
			passages[id], order = p, append(order, id)
		}
		if e.Join.Odds != nil {
			p.odds *= *e.Join.Odds
		}
		place, ok := e.Position.Reading()
		if ok && e.Mark.Kind == kind && ephemeris.At(e.Position.UTC).CMD(place.Heliographic).Abs() <= rateWithinCMD {
			place.Cov = withUnknown(place)
			p.seen = append(p.seen, rateSighting{e.Position.UTC, place, p.odds})
			p.odds = 1
		}
		return nil
	})
	if err != nil {
		return Rates{}, err
	}
	var rates Rates
	for _, id := range order {
		if f, ok := rateOf(kind, passages[id].seen); ok {
			f.Passage, f.Name = id, passages[id].name
			rates.Features = append(rates.Features, f)
		}
	}
	rates.Curve = fitCurve(kind, rates.Features, func(f *FeatureRate) Rate { return f.Rate })
	rates.AllSure = fitCurve(kind, rates.Features, func(f *FeatureRate) Rate { return f.AllSure })
	return rates, nil
}

// ratePassage gathers the sightings of a passage; odds is that of the joins since the
// last one that counts.
type ratePassage struct {
	name string
	seen []rateSighting
	odds float64
}

// rateSighting is a place, with the odds that it is of the same feature as the one before.
type rateSighting struct {
	utc   time.Time
	place coords.Measured
	odds  float64
}

// rateOf is the slope of a passage's longitude against time by weighted least squares.
//
// Of a passage with doubtful joins every stretch may be all there is of one feature: the
// odds of that are those of the joins inside it, and against those at its ends. The rate
// is the mean of the slopes of all stretches, each weighted by its odds and by what it
// can tell; what they disagree by is in the error.
func rateOf(kind catalog.Kind, seen []rateSighting) (FeatureRate, bool) {
	if len(seen) < rateSightings {
		return FeatureRate{}, false
	}
	first, last := seen[0], seen[len(seen)-1]
	f := FeatureRate{Kind: kind, Sightings: len(seen), Days: rotation.Days(first.utc, last.utc), Odds: 1}
	if f.Days < rateDays {
		return FeatureRate{}, false
	}
	centre := rotation.PriorOf(kind.String()).CentreSigma(0).Degrees()
	weight := func(s rateSighting) float64 {
		return 1 / (coords.Square(s.place.Cov.SigmaL().Degrees()) + coords.Square(centre))
	}
	var sum, sumRate, sumSquare float64
	for start := range seen {
		odds := 1.0 // that a feature begins here and goes on
		if start > 0 {
			odds = 1 - seen[start].odds
			f.Odds *= seen[start].odds
		}
		var line rateLine
		for end := start; end < len(seen); end++ {
			s := seen[end]
			if end > start {
				odds *= s.odds
			}
			line.add(rotation.Days(first.utc, s.utc), (s.place.L - first.place.L).Wrap180().Degrees(), s.place.B.Degrees(), weight(s))
			rate, told := line.fit()
			all := start == 0 && end == len(seen)-1
			if all && !(told > 0) {
				return FeatureRate{}, false
			}
			if all {
				f.Lat = coords.Angle(line.wb/line.w) * coords.Degree
				f.AllSure = Rate{rate + ephemeris.CarringtonDegPerDay, 1 / math.Sqrt(told)}
			}
			ends := odds
			if end < len(seen)-1 {
				ends *= 1 - seen[end+1].odds
			}
			sum, sumRate, sumSquare = sum+ends*told, sumRate+ends*told*rate, sumSquare+ends*told*rate*rate
		}
	}
	if !(sum > 0) {
		return FeatureRate{}, false
	}
	mean := sumRate / sum
	f.Rate = Rate{mean + ephemeris.CarringtonDegPerDay, math.Sqrt(1/sum + max(0, sumSquare/sum-mean*mean))}
	return f, true
}

// rateLine is a straight line through places by weighted least squares.
type rateLine struct{ w, wt, wx, wtt, wtx, wb float64 }

func (l *rateLine) add(t, x, b, weight float64) {
	l.w, l.wt, l.wx, l.wtt, l.wtx = l.w+weight, l.wt+weight*t, l.wx+weight*x, l.wtt+weight*t*t, l.wtx+weight*t*x
	l.wb += weight * b
}

// fit is its rate, and what is told of it, one over the variance; 0 where nothing is.
func (l *rateLine) fit() (rate, told float64) {
	det := l.w*l.wtt - l.wt*l.wt
	if !(det > 1e-12*l.w*l.wtt) {
		return 0, 0
	}
	return (l.w*l.wtx - l.wt*l.wx) / det, det / l.w
}

// fitCurve fits A + B sin² b to rates of the features. What they scatter more than their
// errors say is taken as a spread of their own, by which each is weighted the less.
func fitCurve(kind catalog.Kind, features []FeatureRate, rateOf func(*FeatureRate) Rate) (c Curve) {
	if len(features) < rateFeatures {
		return c
	}
	for range 30 {
		var w, ws, wy, wss, wsy float64
		for i := range features {
			s, r := coords.Square(features[i].Lat.Sin()), rateOf(&features[i])
			weight := 1 / (coords.Square(r.Sigma) + coords.Square(c.Scatter))
			w, ws, wy, wss, wsy = w+weight, ws+weight*s, wy+weight*r.DegPerDay, wss+weight*s*s, wsy+weight*s*r.DegPerDay
		}
		det := w*wss - ws*ws
		if !(det > 1e-9*w*w) {
			return c // all at one latitude: no curve
		}
		a, b := (wss*wy-ws*wsy)/det, (w*wsy-ws*wy)/det
		c.Law = rotation.Law{
			Name: "own", Tracer: kind.String(), Source: fmt.Sprintf("%d passages of this catalogue", len(features)),
			A: a, B: b, SigmaA: math.Sqrt(wss / det), SigmaB: math.Sqrt(w / det),
		}
		c.Fitted = true
		var excess, sum float64
		for i := range features {
			r := rateOf(&features[i])
			weight := 1 / (coords.Square(r.Sigma) + coords.Square(c.Scatter))
			excess += weight * (coords.Square(r.DegPerDay-a-b*coords.Square(features[i].Lat.Sin())) - coords.Square(r.Sigma))
			sum += weight
		}
		next := math.Sqrt(max(0, excess/sum))
		if math.Abs(next-c.Scatter) < 1e-4 {
			return c
		}
		c.Scatter = (c.Scatter + next) / 2
	}
	return c
}
