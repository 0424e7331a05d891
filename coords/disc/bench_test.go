package disc_test

import (
	"testing"
	"time"

	"limbwatch/coords"
	"limbwatch/coords/disc"
)

var (
	benchView = disc.View{
		Limb: coords.Limb{
			Centre: coords.Pixel{X: 1000, Y: 1010}, RadiusPx: 900,
			Cov: coords.LimbCovariance{XX: 0.01, YY: 0.01, RR: 0.01},
		},
		Layer:     coords.Chromosphere,
		North:     coords.North{Angle: deg(-40), Sigma: deg(0.5)},
		Face:      coords.Face{P: deg(-21), B0: deg(6.5), L0: deg(3), Semidiameter: 955 * coords.Arcsecond},
		SigmaTime: time.Minute,
	}
	exactView = disc.View{Limb: coords.Limb{Centre: coords.Pixel{X: 1000, Y: 1010}, RadiusPx: 900}, Face: benchView.Face}
	sink      disc.Place
)

func BenchmarkPlaceExactly(b *testing.B) {
	for i := range b.N {
		sink = exactView.Place(coords.Pixel{X: float64(500 + i%1000), Y: 700}, 0, disc.Height{})
	}
}

func BenchmarkPlaceWithErrors(b *testing.B) {
	for i := range b.N {
		sink = benchView.Place(coords.Pixel{X: float64(500 + i%1000), Y: 700}, 0.5, disc.Height{})
	}
}

func BenchmarkPlaceWithErrorsAndHeight(b *testing.B) {
	for i := range b.N {
		sink = benchView.Place(coords.Pixel{X: float64(500 + i%1000), Y: 700}, 0.5, disc.Height{Mm: 26, SigmaMm: 12})
	}
}

func BenchmarkProject(b *testing.B) {
	for i := range b.N {
		pixelSink, _ = benchView.Project(coords.Heliographic{B: deg(20), L: deg(float64(i % 80))}, 26)
	}
}

var pixelSink coords.Pixel

func BenchmarkSightPoint(b *testing.B) {
	s := benchView.Sight()
	for i := range b.N {
		pointSink = s.Point(coords.Pixel{X: float64(500 + i%1000), Y: 700})
	}
}

func BenchmarkSightPlaceWithErrors(b *testing.B) {
	s := benchView.Sight()
	for i := range b.N {
		sink = s.Place(coords.Pixel{X: float64(500 + i%1000), Y: 700}, 0.5, disc.Height{})
	}
}

var pointSink disc.Point
