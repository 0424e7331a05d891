package catalog

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"limbwatch/coords"
)

func seen(id MarkID, frame FrameID, kind Kind, latDeg, lonDeg, sigmaDeg float64) Entry {
	v := (coords.Angle(sigmaDeg) * coords.Degree).Squared()
	return Entry{
		Mark:  Mark{ID: id, Frame: frame, Kind: kind},
		Frame: Frame{ID: frame, Sitting: 1},
		Position: Position{Disc: &OnDisc{Measured: coords.Measured{
			Heliographic: coords.Heliographic{B: coords.Angle(latDeg) * coords.Degree, L: (coords.Angle(lonDeg) * coords.Degree).Wrap360()},
			Cov:          coords.Covariance{BB: v, LL: v},
		}}},
	}
}

func groups(entries ...Entry) (out [][]MarkID) {
	for _, s := range GroupSightings(entries) {
		var ids []MarkID
		for _, e := range s.Entries {
			ids = append(ids, e.Mark.ID)
		}
		out = append(out, ids)
	}
	return out
}

func TestTheSameThingOnTwoFramesIsOneSighting(t *testing.T) {
	assert.Equal(t, [][]MarkID{{1, 3}, {2}, {4}}, groups(
		seen(1, 1, Sunspot, 10, 359.8, 0.3), seen(2, 1, Sunspot, -10, 40, 0.3),
		seen(3, 2, Sunspot, 10.4, 0.2, 0.3), seen(4, 2, Sunspot, 20, 0, 0.3)))
}

func TestTwoMarksOfOneFrameAreNeverOneSighting(t *testing.T) {
	// 1 and 2 were told apart by the observer; 3 lies nearer to 2.
	assert.Equal(t, [][]MarkID{{1}, {2, 3}}, groups(
		seen(1, 1, Sunspot, 10, 20, 0.3), seen(2, 1, Sunspot, 10, 20.6, 0.3), seen(3, 2, Sunspot, 10, 20.5, 0.3)))
}

func TestKindsSittingsAndPassagesKeepApart(t *testing.T) {
	spot, plage := seen(1, 1, Sunspot, 10, 20, 1), seen(2, 2, Plage, 10, 20, 1)
	elsewhere := seen(3, 3, Sunspot, 10, 20, 1)
	elsewhere.Frame.Sitting = 2
	imported, twin := seen(4, 4, Sunspot, 10, 20, 1), seen(5, 5, Sunspot, 10, 20, 1)
	imported.Frame.Sitting, twin.Frame.Sitting = 0, 0
	assert.Equal(t, [][]MarkID{{1}, {2}, {3}, {4}, {5}}, groups(spot, plage, elsewhere, imported, twin))

	a, b := seen(1, 1, Sunspot, 10, 20, 1), seen(2, 2, Sunspot, 10, 20, 1)
	a.Join, b.Join = &Join{Passage: 1}, &Join{Passage: 2}
	assert.Equal(t, [][]MarkID{{1}, {2}}, groups(a, b))
}

func TestTheObserversWordJoinsAcrossKindsAndDistance(t *testing.T) {
	filament, prominence := seen(1, 1, Filament, 10, 20, 1), seen(2, 2, Prominence, 40, 80, 1)
	prominence.Mark.SameAs = 1
	assert.Equal(t, [][]MarkID{{1, 2}}, groups(filament, prominence))
	filament.Join, prominence.Join = &Join{Passage: 3}, &Join{Passage: 3}
	prominence.Mark.SameAs = 0
	assert.Equal(t, [][]MarkID{{1, 2}}, groups(filament, prominence))
}

func TestProminencesThatOverlapAlongTheLimbAreOne(t *testing.T) {
	edge := func(id MarkID, frame FrameID, from, to float64) Entry {
		e := seen(id, frame, Prominence, 0, 0, 1)
		e.Position.Disc = nil
		deg := coords.Degree
		e.Position.Edge = &AtEdge{From: coords.Angle(from) * deg, To: coords.Angle(to) * deg, SigmaPA: 0.3 * deg}
		return e
	}
	assert.Equal(t, [][]MarkID{{1, 3}, {2}, {4}}, groups(
		edge(1, 1, 355, 5), edge(2, 1, 80, 90), edge(3, 2, 3, 8), edge(4, 2, 100, 110)))
}

func TestTheBestKnownOfASightingIsTold(t *testing.T) {
	s := GroupSightings([]Entry{seen(1, 1, Plage, 10, 20, 2), seen(2, 2, Plage, 10, 20, 0.5)})
	assert.Len(t, s, 1)
	assert.Equal(t, MarkID(2), s[0].Entries[s[0].Best].Mark.ID)
}

// Ten crowded groups of thirty spots, each spot marked on three frames of a day.
func BenchmarkSightingsOfACrowdedDay(b *testing.B) {
	random := rand.New(rand.NewPCG(19, 57))
	var entries []Entry
	for group := range 10 {
		for range 30 {
			lat, lon := 15+random.NormFloat64(), 30*float64(group)+2*random.NormFloat64()
			for frame := range FrameID(3) {
				entries = append(entries, seen(MarkID(len(entries)+1), frame+1, Sunspot, lat, lon, 0.3))
			}
		}
	}
	for b.Loop() {
		GroupSightings(entries)
	}
}
