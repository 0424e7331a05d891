// Package rotation carries places on the Sun from one time to another by
// differential rotation.
//
// A law gives the sidereal rate at a latitude, in degrees a day of 86400 s:
//
//	ω(B) = A + B sin²(lat) + C sin⁴(lat)
//
// Carrington longitudes turn at 14.1844° a day, so in them a feature drifts by
//
//	L(t2) = L(t1) + (ω − 14.1844)(t2 − t1)
//
// and nothing of the Earth's motion is in it. Seen from the Earth its central
// meridian distance is CMD = L − L0, with L0 of the ephemeris: the Earth's true
// motion over the interval, 0.948° to 1.019° a day, and not its mean.
//
// The published laws are stored by their coefficients: under one name different
// ones are in use (see Laws). What is known of single features (how far one
// strays from the law, how high it stands) is in a Prior.
package rotation
