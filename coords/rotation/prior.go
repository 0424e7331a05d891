package rotation

import (
	"math"

	"limbwatch/coords"
)

// Prior is what is known of a single feature of a kind before it was followed.
//
//	Law                  how features of the kind turn
//	RateSigmaDegPerDay   how far the steady rate of one lies from the law, longitude
//	DriftSigmaDegPerDay  its steady drift in latitude, whose mean is 0
//	WanderLonDeg,
//	WanderLatDeg         how its middle wanders by growth and decay: a random walk,
//	                     degrees after one day, growing with the square root
//	CentreSigmaDeg       how far two people put the middle of a small one apart
//	CentrePerLength      the same along a long one, in parts of its length
//	HeightMm,
//	HeightSigmaMm        height above the photosphere, as it is seen on the disc
//	Source               where the figures are from
type Prior struct {
	Law                        Law
	RateSigmaDegPerDay         float64
	DriftSigmaDegPerDay        float64
	WanderLonDeg, WanderLatDeg float64
	CentreSigmaDeg             float64
	CentrePerLength            float64
	HeightMm, HeightSigmaMm    float64
	Source                     string
}

var priors = map[string]Prior{
	// Wander and rate: the Greenwich groups of 1905, 1937, 1957 and 1964 within
	// 65° of the meridian, 6362 pairs a day apart and 19265 two to nine days. The
	// residual from the law, 1.48 times its median size, is 0.71° after 1 day, 1.33° after 3, 2.04° after 6 in longitude and
	// 0.44°, 0.59°, 0.89° in latitude: a random walk with a little steady drift.
	"sunspot": {
		Law:                mustFind("poljancic-beljan"),
		RateSigmaDegPerDay: 0.20, DriftSigmaDegPerDay: 0.08,
		WanderLonDeg: 0.65, WanderLatDeg: 0.36,
		CentreSigmaDeg: 0.3, CentrePerLength: 0.05,
		Source: "rate and wander from Greenwich groups; drift 10-15 m/s, Javaraiah 2010; centre: common practice, no source; height 0 by definition",
	},
	// Plage is larger, and changes slower, than its spots. It lies in the
	// chromosphere, whose H-alpha layers stand 1 to 3 Mm high.
	"plage": {
		Law:                mustFind("mishra"),
		RateSigmaDegPerDay: 0.20, DriftSigmaDegPerDay: 0.08,
		WanderLonDeg: 0.5, WanderLatDeg: 0.35,
		CentreSigmaDeg: 1.0, CentrePerLength: 0.1,
		HeightMm: 2, HeightSigmaMm: 1,
		Source: "as sunspot where not measured; centre and height: common practice, no source",
	},
	// Heights: the commonest prominence reaches 26 Mm (SLIPCAT, 9477 of them),
	// large quiet ones 50, those of active regions 10 and less; the dark spine
	// seen from above is the denser part below the top.
	"filament": {
		Law:                mustFind("dazambuja"),
		RateSigmaDegPerDay: 0.25, DriftSigmaDegPerDay: 0.10,
		WanderLonDeg: 0.6, WanderLatDeg: 0.5,
		CentreSigmaDeg: 0.7, CentrePerLength: 0.1,
		HeightMm: 20, HeightSigmaMm: 12,
		Source: "rate: the 0.2-0.4 deg/day by which published laws and filaments differ; height: SLIPCAT and Zirin's 50 Mm; wander and centre: common practice, no source",
	},
	"prominence": {
		Law:                mustFind("dazambuja"),
		RateSigmaDegPerDay: 0.25, DriftSigmaDegPerDay: 0.10,
		WanderLonDeg: 0.6, WanderLatDeg: 0.5,
		CentreSigmaDeg: 1.0, CentrePerLength: 0.1,
		HeightMm: 26, HeightSigmaMm: 16,
		Source: "as filament; height: SLIPCAT",
	},
	"other": {
		Law:                mustFind("snodgrass-ulrich"),
		RateSigmaDegPerDay: 0.40, DriftSigmaDegPerDay: 0.10,
		WanderLonDeg: 0.7, WanderLatDeg: 0.5,
		CentreSigmaDeg: 1.0, CentrePerLength: 0.1,
		HeightMm: 5, HeightSigmaMm: 10,
		Source: "nothing is known: magnetic features, wide; common practice, no source",
	},
}

// PriorOf is the prior of a tracer: sunspot, plage, filament or prominence; for
// any other word that of a thing of which nothing is known.
func PriorOf(tracer string) Prior {
	if p, ok := priors[tracer]; ok {
		return p
	}
	return priors["other"]
}

// CentreSigma is how well the middle of a feature of that length is defined,
// beside all errors of measurement.
func (p Prior) CentreSigma(length coords.Angle) coords.Angle {
	return coords.Angle(math.Hypot(p.CentreSigmaDeg, p.CentrePerLength*length.Degrees())) * coords.Degree
}
