package field

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// unitOf are the ends of names that tell a unit (VOUnits 1.0 spells the units).
var unitOf = map[string]string{"_deg": "deg", "_km": "km", "_mm": "mm", "_um": "um", "_px": "pix", "_s": "s", "_m": "m",
	"_arcsec": "arcsec", "_a": "Angstrom"}

func sound[T any](t *testing.T, noun string, fields []Field[T]) {
	seen := map[string]bool{}
	for _, f := range fields {
		assert.False(t, seen[f.Name], "%s: %s is described twice", noun, f.Name)
		seen[f.Name] = true
		assert.NotZero(t, f.Kind, "%s.%s", noun, f.Name)
		assert.Equal(t, strings.ToLower(f.Name), f.Name, "%s: databases fold case", noun)
		assert.Equal(t, f.Kind == Ref, f.Refers != "", "%s.%s", noun, f.Name)
		for end, unit := range unitOf {
			if strings.HasSuffix(f.Name, end) && (f.Kind == Number || f.Kind == Whole) {
				assert.Equal(t, unit, f.Unit, "%s.%s", noun, f.Name)
			}
		}
		if f.Unit != "" && f.Unit != "pix2" {
			told := false
			for end, unit := range unitOf {
				told = told || f.Unit == unit && strings.HasSuffix(f.Name, end)
			}
			assert.True(t, told, "%s.%s: its name does not tell its unit, %s", noun, f.Name, f.Unit)
		}
	}
}

func nounSound[T any, ID ~int64](t *testing.T, n Noun[T, ID]) {
	sound(t, n.Name, n.Fields)
	var thing T
	_ = Values(n.Fields, &thing) // what holds nothing is read without harm
	assert.NotPanics(t, func() { n.Head(&thing) })
	for _, f := range n.Fields {
		assert.NotNil(t, f.Set, "%s.%s is kept, and so can be set", n.Name, f.Name)
	}
}

func TestNamesTellUnitsAndStandOnce(t *testing.T) {
	nounSound(t, Observer)
	nounSound(t, Site)
	nounSound(t, Instrument)
	nounSound(t, Setup)
	nounSound(t, Sitting)
	nounSound(t, Count)
	nounSound(t, Frame)
	nounSound(t, Disc)
	nounSound(t, North)
	nounSound(t, Warning)
	nounSound(t, Mark)
	nounSound(t, Passage)
	nounSound(t, Join)
	nounSound(t, Link)
	sound(t, "position", Position)
	sound(t, "told of a mark", Marks)
	for _, f := range Marks {
		assert.NotEmpty(t, f.About, f.Name)
	}
}

// What was written in megametres is read to the last bit where people wrote it, and what
// is read is written again alike.
func TestMegametresComeBackFromKilometres(t *testing.T) {
	for n := range 100_000 {
		written := float64(n) / 1000
		require.Equal(t, written, kmOfMm(written)/kmInMm)
		found := float64(n)/7919 + 1e-3
		read := kmOfMm(found) / kmInMm
		require.InEpsilon(t, found, read, 3e-16)
		require.Equal(t, kmOfMm(found), kmOfMm(read))
	}
	assert.Equal(t, 31500.0, kmOfMm(31.5))
	assert.Equal(t, 4350.0, Former{Times: kmInMm}.Today(4.35))
	assert.Equal(t, 4000.0, Former{Times: kmInMm}.Today(int64(4)))
	assert.Nil(t, Former{Times: kmInMm}.Today(nil))
}
