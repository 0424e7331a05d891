package capture

import (
	"testing"
	"time"

	"limbwatch/coords/picture/exif"
	"limbwatch/coords/picture/fits"
)

// check holds for whatever was read: a time within the years of pictures, or an
// error, and never both or neither.
func check(t *testing.T, f Found) {
	zone := time.FixedZone("+02:00", 7200)
	for _, opts := range []Options{{}, {Zone: zone}, {NameIsUTC: true}} {
		c, err := f.Resolve(opts)
		if (err == nil) == c.UTC.IsZero() {
			t.Fatalf("%+v with error %v", c, err)
		}
		if err != nil {
			if err.Error() == "" {
				t.Fatal("an error without words")
			}
			continue
		}
		if y := c.UTC.Year(); y < 1800 || y > 2210 || c.SigmaS <= 0 || c.Zone == "" || c.ExposureS < 0 {
			t.Fatalf("impossible %+v", c)
		}
	}
}

func FuzzFromName(f *testing.F) {
	for _, name := range []string{"20020430_165555.png", "2014-07-09T195814", "2026_03_14-152310Z", "08-12-2024_101112", "mh050501.074655", "12May2024 09h15m03s", "20240512_091503+0200", "20240701_0000_512", "3:15:03 PM"} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) { check(t, FromName(name)) })
}

func FuzzFromText(f *testing.F) {
	for _, text := range []string{
		"Date=2024-05-12\nStart (UTC)=09:15:00.5\nEnd (UTC)=09:16:00.5\n", "TimeZone=Europe/Prague\nstart=2024-05-12 11:15:00\n",
		"Time zone: summer (UTC+2)\nmid: 12.05.2024 3:15:03 PM\nduration: 90 s\n", "\xff\xfeU\x00T\x00=\x00", "utc: 08/12/2024 10:11:12",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) { check(t, FromText(text)) })
}

func FuzzFromFITS(f *testing.F) {
	f.Add([]byte(cardText("DATE-OBS= '2024-05-12T09:15:03.5'\nEXPTIME = 2.0\nTIMESYS = 'TAI'\n")))
	f.Add([]byte(cardText("DATE-BEG= '30/04/99'\nTIME-BEG= '16:55:55'\nDATE-END= '1999-05-01T00:00:00'\n")))
	f.Add([]byte(cardText("MJD-AVG = 60442.5\nXPOSURE = 1D3\n")))
	f.Fuzz(func(t *testing.T, text []byte) { check(t, FromFITS(fits.ParseCards(text))) })
}

func FuzzFromEXIF(f *testing.F) {
	f.Add("2024:05:12 11:15:03", "25", "+02:00", 0.004)
	f.Add("0000:00:00 00:00:00", "", "", 0.0)
	f.Fuzz(func(t *testing.T, original, subSec, offset string, exposure float64) {
		if exposure < 0 || exposure > 1e6 {
			return
		}
		check(t, FromEXIF(exif.Tags{Original: original, SubSec: subSec, Offset: offset, ExposureS: exposure}))
	})
}
