package store

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/coords"
)

func TestCountsAreKeptOncePerSittingAndTally(t *testing.T) {
	s := open(t)
	var sitting catalog.Sitting
	var kept catalog.Count
	update(t, s, func(tx *Tx) (err error) {
		if sitting, err = tx.AddSitting(catalog.Sitting{Day: catalog.DayOf(noon)}); err != nil {
			return err
		}
		kept, err = tx.SetCount(catalog.Count{Sitting: sitting.ID, Tally: catalog.TallySpots, Split: true, South: 3, Total: 4})
		return err
	})
	got, err := s.Read(context.Background()).CountsOf(sitting.ID)
	require.NoError(t, err)
	assert.Equal(t, []catalog.Count{kept}, got)
	assert.Equal(t, "C1", kept.ID.String())

	_, err = s.Update(context.Background(), at(catalog.Terminal), func(tx *Tx) error {
		_, err := tx.SetCount(catalog.Count{Sitting: sitting.ID, Tally: catalog.TallySpots, Total: 1})
		return err
	})
	taken := new(TakenError)
	require.ErrorAs(t, err, &taken)

	update(t, s, func(tx *Tx) error { return tx.RemoveCount(kept.ID, Newest) })
	_, err = s.Undo(context.Background(), at(catalog.Terminal))
	require.NoError(t, err)
	got, err = s.Read(context.Background()).Counts()
	require.NoError(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, 3, got[0].South)
}

// An angle must not wander when it is read and written again and again, and what
// was typed must stay as it was typed.
func TestDegreesThereAndBackAreTheSameToTheLastBit(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 7))
	for range 100_000 {
		a := angle(720*random.Float64() - 360)
		require.Equal(t, a, angle(degrees(a)))
		anything := coords.Angle(7 * random.NormFloat64())
		once := angle(degrees(anything))
		require.InEpsilon(t, float64(anything), float64(once), 1e-15)
		require.Equal(t, once, angle(degrees(once)))
	}
	for _, typed := range []float64{12.3, 0.1, 359.9, -7.25, 45, 1e-3, 280.46646} {
		assert.Equal(t, typed, degrees(angle(typed)))
	}
}
