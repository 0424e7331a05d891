// Package coords holds the few types that every part of limbwatch speaks:
// angles, places on the Sun, the Sun's face at an instant, the limb and the
// north of a picture. It computes nothing about the sky; its subpackages do.
//
// # Conventions
//
// They hold everywhere, in Go, SQL, JSON and CSV:
//
//   - Pixels: (0, 0) is the centre of the top-left pixel of the picture as
//     shown (after EXIF or TIFF orientation; a FITS picture is shown with its
//     row 1 at the bottom), x right, y down.
//   - Directions in the picture count counter-clockwise from up, as seen: 0 up,
//     90 left. North is where celestial north points, in that count. A picture
//     is mirrored when east lies clockwise of north.
//   - Position angles count on the sky at the disc's centre from celestial north
//     through east, 0° to 360°. So the position angle of "up" is minus north, or
//     plus north when mirrored.
//   - P is the position angle of the Sun's north pole, B0 and L0 are latitude
//     and Carrington longitude of the disc's centre. B north positive, L growing
//     westward, 0° to 360°; central meridian distance CMD = L − L0 west
//     positive, −180° to 180°.
//   - Radii r count in radii of the limb that was fitted (or named); heights in
//     megametres (1 Mm = 1000 km) above the photosphere unless another limb is
//     named.
//   - Sigma is one standard deviation. Time is UTC.
//
// Inside, an angle is an Angle. At the edges (flags, SQL, JSON, CSV) it is a
// plain number whose name has the unit: lat_deg.
package coords
