package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"limbwatch/catalog"
	"limbwatch/coords"
	"limbwatch/coords/ephemeris"
	"limbwatch/coords/paint"
	"limbwatch/coords/rotation"
)

// The demo's observer, site and telescope are invented, and so is the Sun.
const (
	demoSeed     = 20260301
	demoObserver = "Wren Holloway"
	demoSite     = "Pell Garden"
	demoScope    = "Garden 60"
)

// demoStart is the first day of the demo's run.
var demoStart = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// demoSky says what the weather was on each day of the run: c cloud, s a sitting
// with the single stack (a surface and a limb exposure), d one with the double
// stack (a surface exposure, mirrored by its diagonal).
const demoSky = "sdsccsdscssdcssccdssdcsscdssss"

// demoHero is a filament whose story the demo tells: it crosses the disc under two
// days of cloud, stands at the west edge as a prominence, and comes back.
const demoHero = "the long filament"

// demoShot is one picture to be taken.
type demoShot struct {
	day    int
	at     time.Time
	role   catalog.Role
	double bool
	north  coords.North // as it truly was
}

// name is the file's; its time ends in Z, so that it carries its zone.
func (s demoShot) name() string {
	setup := "single"
	if s.double {
		setup = "double"
	}
	return fmt.Sprintf("%s_%s_%s.png", s.at.Format("2006-01-02T150405Z"), setup, s.role)
}

// demoShots lists the pictures of the run. The camera is put on anew for each
// sitting, so that each has a north of its own.
func demoShots() []demoShot {
	rng := rand.New(rand.NewPCG(demoSeed, 1))
	var shots []demoShot
	for day, sky := range demoSky {
		if sky == 'c' {
			continue
		}
		at := demoStart.AddDate(0, 0, day).Add(time.Duration(9*3600+rng.IntN(5*3600)) * time.Second)
		north := coords.North{Angle: coords.Angle(rng.NormFloat64()*20) * coords.Degree, Mirrored: sky == 'd'}
		shots = append(shots, demoShot{day, at, catalog.RoleSurface, sky == 'd', north})
		if sky == 's' {
			shots = append(shots, demoShot{day, at.Add(150 * time.Second), catalog.RoleLimb, false, north})
		}
	}
	return shots
}

// demoSun is the invented Sun: a population of regions and filaments, and the hero.
func demoSun() *paint.Population {
	drift := func(tracer string) paint.Drift {
		return rotation.PriorOf(tracer).Law.CarringtonDriftDegPerDay
	}
	laws := paint.Laws{Spot: drift("sunspot"), Plage: drift("plage"), Filament: drift("filament"), Pattern: drift("sunspot")}
	sun := paint.Generate(demoSeed, demoStart, len(demoSky), laws)
	// On the first day the hero stands a day inside the east edge.
	l0 := ephemeris.At(demoStart.Add(12 * time.Hour)).L0
	var spine []coords.Heliographic
	for i := range 7 {
		along := float64(i)/6 - 0.5
		spine = append(spine, coords.Heliographic{
			B: coords.Angle(24+5*along+1.2*math.Sin(9*along)) * coords.Degree,
			L: (l0 + coords.Angle(-62+19*along)*coords.Degree).Wrap360(),
		})
	}
	sun.Sheets = append(sun.Sheets, paint.Sheet{
		Filament: paint.Filament{Label: demoHero, Spine: spine, HeightMm: 42, BaseMm: 4, WidthMm: 9, Depth: 2.2, Barbs: 6, Seed: demoSeed},
		Life:     paint.Life{Born: -10, Gone: 60, Growth: 2, Decay: 5},
	})
	return sun
}

// scene is the picture as the painter is told it.
func (s demoShot) scene(sun *paint.Population) paint.Scene {
	const width, height, radiusPx = 1000, 900, 385
	rng := rand.New(rand.NewPCG(demoSeed, uint64(s.at.Unix())))
	camera := paint.Centred(width, height, radiusPx*(1+0.01*rng.NormFloat64()))
	camera.Limb.Centre.X += 18 * rng.NormFloat64()
	camera.Limb.Centre.Y += 18 * rng.NormFloat64()
	camera.North = s.north
	camera.BlurPx = 1.2 + 0.5*rng.Float64()
	camera.Wobble = paint.Wobble{RMSPx: 0.25, CorrelationDeg: 3}
	camera.Gradient = paint.Gradient{Sweet: 0.15, SweetX: 0.2 * rng.NormFloat64(), SweetY: 0.2 * rng.NormFloat64(), SweetRadii: 0.9}
	band := paint.SingleStack()
	if s.double {
		band = paint.DoubleStack()
	}
	if s.role == catalog.RoleLimb {
		camera.Exposure = 3.2
		camera.Halo = paint.Halo{Level: 0.01}
	}
	return paint.Scene{Sun: sun.At(s.at), Face: ephemeris.At(s.at), Band: band, Camera: camera, Seed: uint64(s.at.Unix())}
}
