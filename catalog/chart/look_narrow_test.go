//go:build look

package chart

import "limbwatch/catalog/chart/canvas"

// narrow draws a chart as wide as a phone, too.
func narrow(draw func(Options) (*canvas.Canvas, error)) func(Options) (*canvas.Canvas, error) {
	return func(o Options) (*canvas.Canvas, error) {
		o.Width, o.Density = 390, 2
		return draw(o)
	}
}
