package store

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
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
