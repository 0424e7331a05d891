// Package exif reads the few EXIF tags that matter to a picture of the Sun: how
// it lies and when it was taken (EXIF 2.32, CIPA DC-008-2019).
package exif

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/bep/imagemeta"
)

// Tags is what a file says. Empty text and zero mean that the tag is absent.
//
//	Orientation  1 to 8, as stored against as shown
//	Original     DateTimeOriginal, "2024:05:12 09:15:03": the camera's clock
//	SubSec       SubSecTimeOriginal: decimals of the second
//	Offset       OffsetTimeOriginal: the clock's zone, "+02:00"
//	ExposureS    ExposureTime, seconds
//
// Where a file has no DateTimeOriginal, the three times are those of
// DateTimeDigitized. DateTime alone is not used: editors rewrite it on saving.
type Tags struct {
	Orientation              int
	Original, SubSec, Offset string
	ExposureS                float64
}

// formats maps the names of this project to the library's.
var formats = map[string]imagemeta.ImageFormat{
	"JPEG": imagemeta.JPEG,
	"PNG":  imagemeta.PNG,
	"TIFF": imagemeta.TIFF,
}

// Read reads the tags of a JPEG, PNG or TIFF file. A file without EXIF gives zero
// Tags and no error. An error means damaged EXIF; the tags met before it are
// returned all the same.
func Read(r io.ReadSeeker, format string) (tags Tags, err error) {
	known, ok := formats[format]
	if !ok {
		return Tags{}, fmt.Errorf("EXIF of a %s file: want JPEG, PNG or TIFF", format)
	}
	defer func() { // the library recovers by itself; this is for what it may miss
		if p := recover(); p != nil {
			err = fmt.Errorf("EXIF: the decoder gave up: %v", p)
		}
	}()
	all := make(map[string]any)
	_, err = imagemeta.Decode(imagemeta.Options{
		R:           r,
		ImageFormat: known,
		Sources:     imagemeta.EXIF,
		HandleTag: func(tag imagemeta.TagInfo) error {
			if _, seen := all[tag.Tag]; !seen {
				all[tag.Tag] = tag.Value
			}
			return nil
		},
	})
	tags = pick(all)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = nil // no EXIF before the end of the file
	}
	if err != nil {
		return tags, fmt.Errorf("EXIF: %w", err)
	}
	return tags, nil
}

func pick(all map[string]any) Tags {
	text := func(name string) string {
		if s, ok := all[name].(string); ok {
			return strings.Trim(s, " \x00")
		}
		return ""
	}
	t := Tags{
		Orientation: int(number(all["Orientation"])),
		Original:    text("DateTimeOriginal"),
		SubSec:      text("SubSecTimeOriginal"),
		Offset:      text("OffsetTimeOriginal"),
		ExposureS:   number(all["ExposureTime"]),
	}
	if t.Original == "" {
		t.Original = text("CreateDate") // the library's name of DateTimeDigitized
		t.SubSec, t.Offset = text("SubSecTimeDigitized"), text("OffsetTimeDigitized")
	}
	if t.Orientation < 1 || t.Orientation > 8 {
		t.Orientation = 0
	}
	if !(t.ExposureS > 0) || math.IsInf(t.ExposureS, 0) {
		t.ExposureS = 0
	}
	return t
}

// number is a tag's value as a number, 0 when it is none.
func number(value any) float64 {
	switch v := value.(type) {
	case uint16:
		return float64(v)
	case uint32:
		return float64(v)
	case int:
		return float64(v)
	case float64:
		return v
	case interface{ Float64() float64 }: // the library's rational
		return v.Float64()
	case string:
		f, _ := strconv.ParseFloat(v, 64)
		return f
	}
	return 0
}
