package exchange

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Whatever is read is written and read again as the same file, and nothing makes the
// reader fall over; of what is not whole, a part is read that is.
func FuzzRead(f *testing.F) {
	const begin = `{"noun":"record","version":1}` + "\n"
	f.Add(begin)
	f.Add(begin + `{"noun":"observer","uuid":"0197c0de-0000-7000-8000-000000000001","name":"R. Vane"}`)
	f.Add(begin + `{"noun":"frame","uuid":"0197c0de-0000-7000-8000-000000000002","taken_utc":"2026-03-14T09:12:05.123Z","role":"limb"}
{"noun":"mark","uuid":"0197c0de-0000-7000-8000-000000000003","frame":"0197c0de-0000-7000-8000-000000000002","kind":"prominence","shape":"line","form":"polar","vertices":[[75.1,1.02],[77,1]],"polar_limb":{"height_mm":0,"sigma_mm":0},"marked_utc":"2026-03-14T10:00:00.000Z","same_as":"0197c0de-0000-7000-8000-000000000003"}`)
	f.Add(begin + `{"noun":"sitting","uuid":"0197c0de-0000-7000-8000-000000000004","day":"2026-03-14","looked":{"plage":"none"},"seeing":{"value":"2","scale":"x"}}
{"noun":"count","uuid":"0197c0de-0000-7000-8000-000000000005","sitting":"0197c0de-0000-7000-8000-000000000004","tally":"spots","total":3,"north":1,"south":1}`)
	sealed := strings.SplitAfter(small(f), "\n")
	f.Add(strings.Join(sealed, ""))
	f.Add(strings.Join(sealed[:4], ""))
	f.Add(sealed[0] + strings.Join(sealed[2:], ""))
	at := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, text string) {
		r, _, err := Read(strings.NewReader(text))
		if _, cut := errors.AsType[*NotWholeError](err); cut {
			r, _, err = ReadPartial(strings.NewReader(text))
		}
		if err != nil {
			return
		}
		var first, second bytes.Buffer
		require.NoError(t, Write(&first, r, "x", at))
		again, whole, err := Read(bytes.NewReader(first.Bytes()))
		require.NoError(t, err, "%s", first.String())
		require.Equal(t, Wholeness{Told: true, Whole: true}, whole)
		require.NoError(t, Write(&second, again, "x", at))
		require.Equal(t, first.String(), second.String())
	})
}
