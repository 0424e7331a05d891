package chart

import (
	"fmt"

	"limbwatch/catalog"
	"limbwatch/catalog/chart/canvas"
)

// Theme is the set of colours of a chart.
//
//	Page            behind everything; Panel behind a plot; Sky round a disc
//	Ink             titles, figures and lines that matter; Muted what explains them
//	Hairline        frames and ticks; Faint grids and gaps
//	Kinds           on the page; OnPicture on a picture, where Light is text and Dark its rim
//	Accent          what is computed: laws, predictions
//	Unseen          what a woven map has no picture of
//	Tint            red, green and blue of a picture's white, 0 to 1
type Theme struct {
	Name             string
	Page, Panel, Sky canvas.Colour
	Ink, Muted       canvas.Colour
	Hairline, Faint  canvas.Colour
	Kinds, OnPicture map[catalog.Kind]canvas.Colour
	Light, Dark      canvas.Colour
	Accent           canvas.Colour
	Tint             [3]float64
	Unseen           canvas.Colour
}

// bright are the kinds' colours on dark ground.
var bright = map[catalog.Kind]canvas.Colour{
	catalog.Sunspot: canvas.RGB(0x56b4e9), catalog.Plage: canvas.RGB(0xf0e442), catalog.Filament: canvas.RGB(0x1fc795),
	catalog.Prominence: canvas.RGB(0xf2a20c), catalog.Other: canvas.RGB(0xd98cb9),
}

// Paper is for print: white, black and the darker colours.
var Paper = Theme{
	Name: "paper",
	Page: canvas.RGB(0xffffff), Panel: canvas.RGB(0xffffff), Sky: canvas.RGB(0x101010),
	Ink: canvas.RGB(0x1a1a1c), Muted: canvas.RGB(0x5c5c62),
	Hairline: canvas.RGB(0x8a8a90), Faint: canvas.RGB(0xdcdce0),
	Kinds: map[catalog.Kind]canvas.Colour{
		catalog.Sunspot: canvas.RGB(0x0072b2), catalog.Plage: canvas.RGB(0xc98a00), catalog.Filament: canvas.RGB(0x00805d),
		catalog.Prominence: canvas.RGB(0xb84a00), catalog.Other: canvas.RGB(0xa8548a),
	},
	OnPicture: bright, Light: canvas.RGB(0xffffff), Dark: canvas.RGB(0x08080a),
	Accent: canvas.RGB(0x3d3d44), Tint: [3]float64{1, 1, 1},
	Unseen: canvas.RGB(0xcccccc),
}

// Day is for a screen in a light room: a light warm grey.
var Day = Theme{
	Name: "day",
	Page: canvas.RGB(0xf4f1ec), Panel: canvas.RGB(0xfaf8f5), Sky: canvas.RGB(0x141312),
	Ink: canvas.RGB(0x24211d), Muted: canvas.RGB(0x655f57),
	Hairline: canvas.RGB(0x938c82), Faint: canvas.RGB(0xdfd9d0),
	Kinds: Paper.Kinds, OnPicture: bright, Light: canvas.RGB(0xffffff), Dark: canvas.RGB(0x0a0908),
	Accent: canvas.RGB(0x45403a), Tint: [3]float64{1, 0.99, 0.97},
	Unseen: canvas.RGB(0xcbc4b9),
}

// Night is for eyes that want to stay dark: near black with a red cast, and
// pictures in red.
var Night = Theme{
	Name: "night",
	Page: canvas.RGB(0x140b09), Panel: canvas.RGB(0x1a0f0c), Sky: canvas.RGB(0x080403),
	Ink: canvas.RGB(0xdcb3a3), Muted: canvas.RGB(0xa17567),
	Hairline: canvas.RGB(0x6d4a40), Faint: canvas.RGB(0x38231d),
	Kinds: map[catalog.Kind]canvas.Colour{
		catalog.Sunspot: canvas.RGB(0x5a9cc4), catalog.Plage: canvas.RGB(0xd6c848), catalog.Filament: canvas.RGB(0x35a982),
		catalog.Prominence: canvas.RGB(0xcb7a18), catalog.Other: canvas.RGB(0xbd7ba1),
	},
	OnPicture: map[catalog.Kind]canvas.Colour{
		catalog.Sunspot: canvas.RGB(0x6fb2dc), catalog.Plage: canvas.RGB(0xe6da4e), catalog.Filament: canvas.RGB(0x3dc79a),
		catalog.Prominence: canvas.RGB(0xe28a20), catalog.Other: canvas.RGB(0xd493b8),
	},
	Light: canvas.RGB(0xf0cdbf), Dark: canvas.RGB(0x0c0504),
	Accent: canvas.RGB(0xb98b7c), Tint: [3]float64{0.88, 0.42, 0.31},
	Unseen: canvas.RGB(0x4a3029),
}

// ParseTheme reads a theme's name; the empty text is paper.
func ParseTheme(text string) (Theme, error) {
	for _, t := range []Theme{Paper, Day, Night} {
		if t.Name == text {
			return t, nil
		}
	}
	if text == "" {
		return Paper, nil
	}
	return Theme{}, fmt.Errorf("theme %q: want paper, day or night", text)
}
