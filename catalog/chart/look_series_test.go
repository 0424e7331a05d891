//go:build look

package chart

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
	"limbwatch/coords"
	"limbwatch/coords/rotation"
)

func at(days float64) time.Time { return lookStart.Add(time.Duration(days * 24 * float64(time.Hour))) }

func TestLookLatitudes(t *testing.T) {
	sun := paintedSun(lookStart, 60)
	in := LatitudesInput{From: catalog.DayOf(lookStart), To: catalog.DayOf(lookStart.AddDate(0, 0, 62)), Looked: map[catalog.Kind][]time.Time{}, Heading: "Hill Garden"}
	for d := range 60 {
		if d%9 == 4 || d > 20 && d < 26 {
			continue
		}
		day := paintedAt(t, sun, lookStart.AddDate(0, 0, d), 1000, 460, false)
		in.Entries = append(in.Entries, day.entries...)
		for _, k := range catalog.Kinds {
			if k != catalog.Prominence || d%4 != 1 {
				in.Looked[k] = append(in.Looked[k], day.utc)
			}
		}
	}
	drawlatitudes := func(o Options) (*canvas.Canvas, error) { return Latitudes(in, o) }
	save(t, "latitudes", drawlatitudes)
	save(t, "latitudes-phone", narrow(drawlatitudes))
}

// An invented cycle: the belts of spots draw in toward the equator.
func TestLookCycle(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	start := time.Date(2016, 5, 1, 0, 0, 0, 0, time.UTC)
	in := LatitudesInput{From: start, To: start.AddDate(11, 0, 0), Kinds: []catalog.Kind{catalog.Sunspot, catalog.Filament}, Looked: map[catalog.Kind][]time.Time{}}
	n := NumbersInput{From: start, To: in.To}
	groups := Series{Name: "sunspot groups", Kind: catalog.Sunspot}
	for d := 0; d < 365*11; d += 1 {
		if rng.Float64() < 0.4 {
			continue
		}
		t := start.AddDate(0, 0, d)
		phase := float64(d) / (365 * 11)
		in.Looked[catalog.Sunspot] = append(in.Looked[catalog.Sunspot], t)
		in.Looked[catalog.Filament] = append(in.Looked[catalog.Filament], t)
		count := 0
		for range int(6 * math.Sin(math.Pi*math.Sqrt(phase)) * rng.Float64() * 1.6) {
			count++
			lat := (28 - 21*phase) + 5*rng.NormFloat64()
			if rng.IntN(2) == 0 {
				lat = -lat
			}
			e := catalog.Entry{Mark: catalog.Mark{Kind: catalog.Sunspot}}
			e.Position.UTC = t
			e.Position.Disc = &catalog.OnDisc{Measured: coords.Measured{Heliographic: coords.Heliographic{B: coords.Angle(lat) * coords.Degree}}}
			in.Entries = append(in.Entries, e)
			if rng.IntN(3) == 0 {
				f := e
				f.Mark.Kind = catalog.Filament
				f.Position.Disc = &catalog.OnDisc{Measured: coords.Measured{Heliographic: coords.Heliographic{B: coords.Angle(lat*1.7+4*rng.NormFloat64()) * coords.Degree}}}
				in.Entries = append(in.Entries, f)
			}
		}
		groups.Days = append(groups.Days, DayCount{t, float64(count)})
	}
	n.Series = []Series{groups}
	save(t, "latitudes-cycle", func(o Options) (*canvas.Canvas, error) { return Latitudes(in, o) })
	save(t, "numbers-cycle", func(o Options) (*canvas.Canvas, error) { return Numbers(n, o) })
}

func TestLookNumbers(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	in := NumbersInput{From: catalog.DayOf(lookStart), To: catalog.DayOf(lookStart.AddDate(0, 0, 62)), Heading: "Hill Garden"}
	for _, s := range []struct {
		name string
		kind catalog.Kind
		mean float64
	}{{"sunspot groups", catalog.Sunspot, 3}, {"filaments", catalog.Filament, 6}, {"prominences", catalog.Prominence, 5}, {"plages", catalog.Plage, 1}} {
		series := Series{Name: s.name, Kind: s.kind}
		for d := range 62 {
			if d%9 == 4 || d > 20 && d < 26 || s.kind == catalog.Prominence && d%4 == 1 {
				continue
			}
			v := math.Max(0, math.Round(s.mean*(1+0.5*math.Sin(float64(d)/7))+rng.NormFloat64()*s.mean*0.3))
			series.Days = append(series.Days, DayCount{catalog.DayOf(at(float64(d))), v})
		}
		in.Series = append(in.Series, series)
	}
	drawnumbers := func(o Options) (*canvas.Canvas, error) { return Numbers(in, o) }
	save(t, "numbers", drawnumbers)
	save(t, "numbers-phone", narrow(drawnumbers))
}

func TestLookPassage(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	prior := rotation.PriorOf("filament")
	start := coords.Measured{Heliographic: coords.Heliographic{B: 32 * coords.Degree, L: 180 * coords.Degree}}
	start.Cov = coords.Covariance{BB: math.Pow(0.6*math.Pi/180, 2), LL: math.Pow(0.8*math.Pi/180, 2)}
	crossing := prior.Law.Crossing(start.Heliographic, at(0), 0)
	in := PassageInput{Name: "P12 Long South", Kind: catalog.Filament, By: "first sighting, d'Azambuja's law", East: Moment{crossing.East, 9 * time.Hour}, Meridian: Moment{crossing.Meridian, time.Hour}, West: Moment{crossing.West, 9 * time.Hour}}
	for d := 0.0; d < 11; d += 0.25 {
		in.Predicted = append(in.Predicted, Sight{UTC: at(d), Place: prior.Carry(start, d)})
	}
	for d := 0.0; d < 10; d += 1 {
		if d == 3 || d == 4 {
			continue
		}
		p := prior.Carry(start, d)
		p.L += coords.Angle(rng.NormFloat64()*0.5+0.12*d) * coords.Degree
		p.B += coords.Angle(rng.NormFloat64()*0.4) * coords.Degree
		p.Cov = start.Cov
		in.Observed = append(in.Observed, Sight{UTC: at(d), Place: p, Mark: catalog.MarkID(d + 1)})
	}
	drawpassage := func(o Options) (*canvas.Canvas, error) { return Passage(in, o) }
	save(t, "passage", drawpassage)
	save(t, "passage-phone", narrow(drawpassage))
}

func TestLookRates(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	fit := rotation.Law{Name: "fit", A: 14.44, B: -2.4, C: -0.6, SigmaA: 0.04, SigmaB: 0.3, SigmaC: 0.4}
	in := RatesInput{Fit: &fit, Heading: "Hill Garden, March to September 2026"}
	for range 46 {
		lat := coords.Angle(18*rng.NormFloat64()) * coords.Degree
		k := catalog.Sunspot
		if lat.Abs() > 25*coords.Degree || rng.IntN(3) == 0 {
			k = catalog.Filament
		}
		sigma := 0.05 + 0.4*rng.Float64()*rng.Float64()
		in.Points = append(in.Points, Rate{Name: "P1", Kind: k, Lat: lat, Sigma: sigma, DegPerDay: fit.SiderealDegPerDay(lat) + math.Hypot(sigma, 0.12)*rng.NormFloat64()})
	}
	for _, l := range rotation.Laws() {
		switch l.Name {
		case "newton-nunn", "poljancic-beljan", "dazambuja", "snodgrass-ulrich", "mishra", "howard-gilman", "carrington", "brajsa":
			in.Laws = append(in.Laws, l)
		}
	}
	drawrates := func(o Options) (*canvas.Canvas, error) { return Rates(in, o) }
	save(t, "rates", drawrates)
	save(t, "rates-phone", narrow(drawrates))
}

func TestLookComing(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	in := ComingInput{From: catalog.DayOf(lookStart).AddDate(0, 0, 12), To: catalog.DayOf(lookStart).AddDate(0, 0, 44), Now: at(13.3), Heading: "from the marks of Hill Garden until 14 March"}
	for i := range 14 {
		k := catalog.Kinds[rng.IntN(3)]
		prior := rotation.PriorOf(k.String())
		h := coords.Heliographic{B: coords.Angle(25*rng.NormFloat64()) * coords.Degree, L: coords.Angle(360*rng.Float64()) * coords.Degree}
		c := prior.Law.Crossing(h, at(6), i%2)
		moment := func(u time.Time) Moment {
			days := math.Abs(rotation.Days(at(6), u))
			return Moment{u, time.Duration(prior.Growth(h.B, days).SigmaL().Degrees() / 13.2 * 24 * float64(time.Hour))}
		}
		odds := 0.2 + 0.75*rng.Float64()
		item := Coming{Name: fmt.Sprintf("P%d", i+1), Kind: k, Lat: h.B, East: moment(c.East), Meridian: moment(c.Meridian), West: moment(c.West)}
		if i%2 == 1 {
			item.Odds = &odds
		}
		in.Items = append(in.Items, item)
	}
	drawcoming := func(o Options) (*canvas.Canvas, error) { return Calendar(in, o) }
	save(t, "coming", drawcoming)
	save(t, "coming-phone", narrow(drawcoming))
}
