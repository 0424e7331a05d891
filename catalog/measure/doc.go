// Package measure gives sizes of marks with their errors: areas corrected for
// foreshortening, lengths and tilts of filaments, heights and extents of
// prominences, contrasts. A mark's points and the view of its picture go in; it reads
// no catalogue and no file.
//
// # Units and signs
//
// Areas are in millionths of the solar hemisphere (MSH); as they are seen, in
// millionths of the disc. Lengths are angles at the Sun's centre and megametres along
// the photosphere or, where a height is given, at that height. A tilt is positive
// when the eastern end lies nearer to the pole of its hemisphere.
package measure
