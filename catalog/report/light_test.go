package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
)

// What is said of the light must be true of the set-ups that the record was made with: a
// wide filter shows no chromosphere that could hide a spot, whatever its centre, and a
// narrow one elsewhere hides them for other reasons, if at all.
func TestOnlyALineHidesSpots(t *testing.T) {
	for _, c := range []struct {
		name         string
		setups       []catalog.Setup
		want, absent []string
	}{
		{"white light, nothing else known", []catalog.Setup{{Name: "white"}}, nil, []string{"chromosphere", "narrow-band", "Hα"}},
		{"white light, centred anywhere", []catalog.Setup{{Name: "white", WavelengthA: 6562.8, PassbandA: 2000}}, nil, []string{"chromosphere", "narrow-band", "Hα"}},
		{"a continuum filter", []catalog.Setup{{Name: "green", WavelengthA: 5400, PassbandA: 8}}, nil, []string{"chromosphere", "narrow-band", "Hα"}},
		{"a filter counted, but wide", []catalog.Setup{{Name: "wide", PassbandA: 70, Stacked: 1}}, nil, []string{"chromosphere", "narrow-band", "Hα"}},
		{"H-alpha", []catalog.Setup{{Name: "single", WavelengthA: 6562.8, PassbandA: 0.7, Stacked: 1}},
			[]string{"Groups, spots and R are from narrow-band pictures (Hα 6562.8 Å, passband 0.7 Å)", "hidden under the chromosphere"}, nil},
		{"stacked, its passband not known", []catalog.Setup{{Name: "double", Stacked: 2}}, []string{"narrow-band pictures (double stack)", "hidden under the chromosphere"}, nil},
		{"another line", []catalog.Setup{{Name: "K", WavelengthA: 3933.7, PassbandA: 2.2}}, []string{"(3933.7 Å, passband 2.2 Å)", "not the white-light number"}, []string{"chromosphere", "Hα"}},
		{"both", []catalog.Setup{{Name: "single", WavelengthA: 6562.8, PassbandA: 0.7, Stacked: 1}, {Name: "white", PassbandA: 2000}},
			[]string{"of the days with narrow-band pictures (Hα 6562.8 Å, passband 0.7 Å) are not", "chromosphere"}, []string{"2000"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := aMonth(t, 4)
			for i := range in.Sittings {
				in.Sittings[i].Setup = &c.setups[i%len(c.setups)]
			}
			doc, err := New(in)
			require.NoError(t, err)
			var said []string
			for _, s := range doc.Sections {
				for _, b := range s.Blocks {
					said = append(said, b.Small)
				}
			}
			text := strings.Join(said, "\n")
			for _, want := range c.want {
				assert.Contains(t, text, want)
			}
			for _, absent := range c.absent {
				assert.NotContains(t, text, absent)
			}
		})
	}
}
