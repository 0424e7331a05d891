// Package paint paints pictures of a Sun whose truth is known, for tests and for
// the demo. It is no camera model: it makes pictures that are hard in the ways
// in which real ones are hard, and it knows where everything lies in them.
//
// A Scene is what there is to see and how it is seen: a Sun (features that live
// on it, in latitude, Carrington longitude and height), its Face at the instant,
// a Band (what the filter shows: which limb, how dark, how bright), and a Camera
// (where the disc lies in the picture and all that goes wrong on the way there).
// Paint turns it into a Frame: grey levels and the Truth. A Population is a Sun
// over many days; its At gives the Sun of an instant.
//
// # Projection
//
// A point of the Sun is seen in true perspective from the finite distance
// D = R/sin S. The picture has an even scale in arcseconds, so a place in it is
// the angular distance from the disc's centre over that of the limb. The limb is
// where the line of sight touches the sphere at the height of Band.Layer. The
// formulas stand here a second time, apart from coords/disc, because a painter
// that shared them could not find a fault in them; they are checked against a
// table that another library computed.
//
// # What the true limb is
//
// Truth.Limb is the edge of that sphere's silhouette, in the picture before it
// is blurred. On an evenly bright disc the point of half brightness stays there
// whatever the blur (but for σ²/2R, 0.001 px at σ 1.5 px and R 900 px). On a
// darkened disc it does not: brightness still rises just inside the limb, so the
// steepest point of the blurred edge moves inward, by some hundredths of the
// blur's sigma. A chromospheric limb is painted with an even rim between the
// photosphere's edge and its own, which keeps the steepest point at the limb as
// long as the blur is narrower than the rim (5.6 px at R 900 px).
// Truth.InflectionPx is that steepest point, so that a test can tell a finder's
// own fault from the light's.
//
// Everything is deterministic: the same Scene gives the same picture on the same
// kind of processor.
package paint
