// Package years makes catalogues of many years, to measure what a record costs that has
// grown. All of it is invented. A day has the same content in each: two sittings, each of
// an exposure for the disc and one for the edge, with twenty marks that are followed from
// day to day; only the days and the observers grow in number.
package years

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"time"

	"limbwatch/catalog"
	"limbwatch/catalog/follow"
	"limbwatch/catalog/observe"
	"limbwatch/catalog/store"
	"limbwatch/coords"
	"limbwatch/coords/disc"
	"limbwatch/coords/ephemeris"
)

// MarksADay is how many marks a day has, on its two sittings.
const MarksADay = 40

// Made is what a catalogue was filled with.
//
//	Last     the disc exposure of the last sitting, which has 17 of its marks
//	AtEdge   a prominence of the last day
//	Passage  one that is seen on the last day
type Made struct {
	Days, Observers, Marks, Passages int
	First, End                       time.Time
	Last                             catalog.FrameID
	AtEdge                           catalog.MarkID
	Passage                          catalog.PassageID
}

// End is the last day of every catalogue.
var End = time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC)

// slots are the places of a day's features. In each one feature after the other crosses
// the disc, the next appearing when the one before has gone.
var slots = []struct {
	kind catalog.Kind
	n    int
}{{catalog.Sunspot, 9}, {catalog.Plage, 4}, {catalog.Filament, 4}}

const (
	prominences = 3
	halfCross   = 5.6  // days from the meridian to where a feature is last marked
	degPerDay   = 13.2 // across the disc
)

// filler is a catalogue that is being filled.
type filler struct {
	tx       *store.Tx
	random   *rand.Rand
	made     *Made
	people   []observe.Circumstances
	passages map[[2]int]crossing // by slot and number
	n        int                 // of the passages
}

// crossing is one feature's way across the disc.
type crossing struct {
	id       catalog.PassageID
	lat      coords.Angle
	meridian time.Time
}

// Fill writes marks, in whole days, into the empty catalogue of a keeper.
func Fill(ctx context.Context, k observe.Keeper, marks int) (Made, error) {
	made := Made{Days: max(1, marks/MarksADay), End: End}
	made.Observers = 2 + made.Days/1200
	made.First = End.AddDate(0, 0, 1-made.Days)
	f := &filler{random: rand.New(rand.NewPCG(20260314, uint64(made.Days))), made: &made, passages: map[[2]int]crossing{}}
	const daysAtOnce = 100
	for day := 0; day < made.Days; day += daysAtOnce {
		change := store.Change{Title: "days of the record", Origin: catalog.Terminal, At: time.Now()}
		_, err := k.Store.Update(ctx, change, func(tx *store.Tx) error {
			f.tx = tx
			if day == 0 {
				if err := f.addPeople(); err != nil {
					return err
				}
			}
			for d := day; d < min(day+daysAtOnce, made.Days); d++ {
				if err := f.day(d); err != nil {
					return err
				}
			}
			tx.Followed(time.Time{}, time.Time{})
			return nil
		})
		if err != nil {
			return made, err
		}
	}
	made.Passages = f.n
	return made, learn(ctx, k, made)
}

// learn gives the catalogue the habits that following learns of its first weeks, which are
// like all others: a record of which something was joined has some.
func learn(ctx context.Context, k observe.Keeper, made Made) error {
	var sightings []follow.Sighting
	weeks := store.Query{From: made.First, To: made.First.AddDate(0, 0, 60)}
	err := k.Store.Read(ctx).EachSighted(weeks, func(s store.Sighted) error {
		if !s.AtEdge {
			sightings = append(sightings, follow.Sighting{ID: s.Mark.String(), Frame: s.Frame.String(), Kind: s.Kind, UTC: s.UTC, Face: ephemeris.At(s.UTC), Place: s.Place})
		}
		return nil
	})
	if err != nil {
		return err
	}
	result, err := follow.Follow(ctx, sightings, follow.Options{})
	if err != nil {
		return err
	}
	learnt, err := json.Marshal(result.Habits)
	if err != nil {
		return err
	}
	_, err = k.Store.Update(ctx, store.Change{Title: "habits", Origin: catalog.Terminal, At: time.Now()}, func(tx *store.Tx) error {
		return tx.SetHabits(string(learnt))
	})
	return err
}

func (f *filler) addPeople() error {
	for i := range f.made.Observers {
		o, err := f.tx.AddObserver(catalog.Observer{Name: fmt.Sprintf("Observer %d", i+1), Default: i == 0})
		if err != nil {
			return err
		}
		site, err := f.tx.AddSite(catalog.Site{Name: fmt.Sprintf("Garden %d", i+1), LatDeg: 40 + float64(i%10), LonDeg: float64(i % 20), Default: i == 0})
		if err != nil {
			return err
		}
		instrument, err := f.tx.AddInstrument(catalog.Instrument{Name: fmt.Sprintf("Telescope %d", i+1)})
		if err != nil {
			return err
		}
		setup, err := f.tx.AddSetup(catalog.Setup{Instrument: instrument.ID, Name: "with its filter", Default: i == 0})
		if err != nil {
			return err
		}
		f.people = append(f.people, observe.Circumstances{Observer: o.ID, Setup: setup.ID, Site: site.ID})
	}
	return nil
}

// day adds a day: a sitting in the morning and one in the afternoon.
func (f *filler) day(n int) error {
	for half, hour := range []int{9, 14} {
		who := f.people[(2*n+half)%len(f.people)]
		at := f.made.First.AddDate(0, 0, n).Add(time.Duration(hour)*time.Hour + time.Duration(f.random.IntN(3600))*time.Second)
		s, err := f.tx.AddSitting(catalog.Sitting{Observer: who.Observer, Setup: who.Setup, Site: who.Site, Day: catalog.DayOf(at)})
		if err != nil {
			return err
		}
		north := coords.Angle(f.random.Float64()*360-180) * coords.Degree
		for _, role := range []catalog.Role{catalog.RoleSurface, catalog.RoleLimb} {
			if err := f.frame(s, at, role, north); err != nil {
				return err
			}
			at = at.Add(4 * time.Minute)
		}
	}
	return nil
}

// frame adds an exposure with its disc, its north and its marks.
func (f *filler) frame(s catalog.Sitting, at time.Time, role catalog.Role, north coords.Angle) error {
	name := fmt.Sprintf("sun_%s_%s.png", at.Format("20060102_150405Z"), role)
	sum := sha256.Sum256([]byte(name))
	frame, err := f.tx.AddFrame(catalog.Frame{Sitting: s.ID, Path: "/pictures/" + name, SHA256: hex.EncodeToString(sum[:]), Role: role, Taken: at,
		Moment: catalog.MomentMiddle, TimeSource: "its name", Zone: "UTC", WidthPx: 2400, HeightPx: 2000})
	if err != nil {
		return err
	}
	limb := coords.Limb{Centre: coords.Pixel{X: 1190 + 20*f.random.Float64(), Y: 990 + 20*f.random.Float64()}, RadiusPx: 900, Cov: coords.LimbCovariance{XX: 0.02, YY: 0.02, RR: 0.02}}
	if _, err := f.tx.SetDisc(catalog.Disc{Frame: frame.ID, Limb: limb, Layer: coords.Chromosphere, LayerFrom: catalog.LayerNamed, Method: catalog.DiscFitted,
		RMSPx: 0.4, ArcDeg: 360, Points: 720, Accepted: true}); err != nil {
		return err
	}
	if _, err := f.tx.SetNorth(catalog.North{Frame: frame.ID, Angle: north, Sigma: 0.3 * coords.Degree, Method: "drift"}); err != nil {
		return err
	}
	if f.random.IntN(200) == 0 {
		if _, err := f.tx.SetWarning(catalog.Warning{Frame: frame.ID, Cause: catalog.CauseFile, Words: "its size is that of a picture that was scaled", Basis: name}); err != nil {
			return err
		}
	}
	view := disc.View{Limb: limb, Layer: coords.Chromosphere, North: coords.North{Angle: north}, Face: ephemeris.At(at)}
	if role == catalog.RoleSurface {
		f.made.Last = frame.ID
		return f.onDisc(s, frame, view)
	}
	return f.atEdge(s, frame, view)
}

func (f *filler) onDisc(s catalog.Sitting, frame catalog.Frame, view disc.View) error {
	var marks []catalog.Mark
	var of []crossing
	slot := 0
	for _, kind := range slots {
		for range kind.n {
			c, err := f.crossingAt(slot, kind.kind, frame.Taken)
			if err != nil {
				return err
			}
			cmd := coords.Angle(degPerDay*frame.Taken.Sub(c.meridian).Hours()/24) * coords.Degree
			marks, of = append(marks, f.mark(s, frame, kind.kind, view, c.lat, cmd)), append(of, c)
			slot++
		}
	}
	return f.keep(marks, of, catalog.Made)
}

func (f *filler) mark(s catalog.Sitting, frame catalog.Frame, kind catalog.Kind, view disc.View, lat, cmd coords.Angle) catalog.Mark {
	m := catalog.Mark{Frame: frame.ID, Kind: kind, Observer: s.Observer, MarkedAt: frame.Taken,
		Geometry: catalog.Geometry{Shape: catalog.Point, SigmaClickPx: observe.DefaultSigmaClickPx}}
	vertices := 1
	if kind == catalog.Filament {
		m.Geometry.Shape, vertices = catalog.Line, 3
	}
	for i := range vertices {
		off := coords.Angle(3*(i-vertices/2)) * coords.Degree
		p, _ := view.Project(coords.Heliographic{B: lat + off/3, L: (view.Face.L0 + cmd + off).Wrap360()}, 0)
		p.X, p.Y = p.X+f.random.NormFloat64(), p.Y+f.random.NormFloat64()
		m.Geometry.Pixels = append(m.Geometry.Pixels, p)
	}
	return m
}

// crossingAt is the feature that is on the disc in a slot at a time; it begins when it is
// first seen.
func (f *filler) crossingAt(slot int, kind catalog.Kind, at time.Time) (crossing, error) {
	const whole = 2 * halfCross
	since := at.Sub(f.made.First).Hours()/24 + float64(slot)*0.66
	number := int(since / whole)
	key := [2]int{slot, number}
	if c, known := f.passages[key]; known {
		return c, nil
	}
	f.n++
	p, err := f.tx.AddPassage(catalog.Passage{Name: fmt.Sprintf("%d-%s-%d", at.Year(), kind.String()[:3], f.n), Kind: kind})
	if err != nil {
		return crossing{}, err
	}
	belt := coords.Angle(8+25*f.random.Float64()) * coords.Degree
	if f.random.IntN(2) == 0 {
		belt = -belt
	}
	into := since - float64(number)*whole - halfCross // days from the meridian
	c := crossing{p.ID, belt, at.Add(time.Duration(-into * 24 * float64(time.Hour)))}
	delete(f.passages, [2]int{slot, number - 2})
	f.passages[key], f.made.Passage = c, p.ID
	return c, nil
}

// atEdge adds the prominences: in turn at either edge, at the latitude of a filament that
// has gone round the west edge or is about to come.
func (f *filler) atEdge(s catalog.Sitting, frame catalog.Frame, view disc.View) error {
	first := slots[0].n + slots[1].n // of the filaments
	var marks []catalog.Mark
	var of []crossing
	for i := range prominences {
		c, err := f.crossingAt(first+i, catalog.Filament, frame.Taken)
		if err != nil {
			return err
		}
		pa := view.Face.P - 90*coords.Degree + c.lat // west
		if frame.Taken.Before(c.meridian) {
			pa = view.Face.P + 90*coords.Degree - c.lat
		}
		m := catalog.Mark{Frame: frame.ID, Kind: catalog.Prominence, Observer: s.Observer, MarkedAt: frame.Taken,
			Geometry: catalog.Geometry{Shape: catalog.Line, SigmaClickPx: observe.DefaultSigmaClickPx}}
		for _, r := range []float64{1.001, 1.05} {
			right, down := view.North.Direction(pa)
			m.Geometry.Pixels = append(m.Geometry.Pixels, view.Limb.At(r*right, r*down))
		}
		marks, of = append(marks, m), append(of, crossing{})
	}
	return f.keep(marks, of, catalog.Made)
}

// keep adds marks with their joins; a few belong to nothing, of a few it is doubtful.
func (f *filler) keep(marks []catalog.Mark, of []crossing, state catalog.Standing) error {
	marks, err := f.tx.AddMarks(marks)
	if err != nil {
		return err
	}
	f.made.Marks += len(marks)
	var joins []catalog.Join
	odds := 0.97
	for i, m := range marks {
		if m.Kind == catalog.Prominence {
			f.made.AtEdge = m.ID
		}
		if of[i].id == 0 || f.random.IntN(20) == 0 {
			continue
		}
		joins = append(joins, catalog.Join{Mark: m.ID, Passage: of[i].id, State: state, By: catalog.ByProgram, Odds: &odds})
		if i == 0 || of[i].id == of[i-1].id {
			continue
		}
		few := 0.2
		switch f.random.IntN(100) {
		case 0, 1, 2:
			joins = append(joins, catalog.Join{Mark: m.ID, Passage: of[i-1].id, State: catalog.Proposed, By: catalog.ByProgram, Odds: &few})
		case 3:
			joins = append(joins, catalog.Join{Mark: m.ID, Passage: of[i-1].id, State: catalog.Refused, By: catalog.ByObserver})
		}
	}
	_, err = f.tx.AddJoins(joins)
	return err
}
