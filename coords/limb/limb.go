// Package limb finds the edge of the Sun's disc in a picture, and how well it is
// known.
//
// # How
//
//   - On a picture shrunk to some 320 pixels, circles are proposed from pairs of
//     edge points and the slopes at them (a random sample consensus, Fischler &
//     Bolles 1981, Comm. ACM 24, 381), and weighed by the length of edge along
//     them. One of them is the limb, by the rules of choose, if it is the only one.
//   - About it the picture is unrolled at full resolution, and every round edge near it
//     is found, concentric or not, where brightness falls outward and where it rises:
//     a stop, a mask or a halo has one, too. See "Which of several".
//   - At full resolution only a band about that circle is read, along some
//     hundreds of directions. In each the mean profile of all is shifted until it
//     fits; that place is a limb point. Prominences, spots, captions and borders
//     have profiles of their own, or stand off, and are left out.
//   - A circle, or an ellipse where that is plainly better, is fitted by the
//     distances of the limb points (Gander, Golub & Strebel 1994, BIT 34, 558, call
//     it the geometric fit), robustly, and then by generalised least squares with
//     noise that is correlated along the limb.
//   - Where in the blurred profile the limb itself lies, is found by a model of the
//     profile: a step and limb darkening, seen through the blur. The radius follows.
//   - A fit that cannot be trusted is refused with the reason.
//
// # Which of several
//
// What tells the Sun's limb from other round edges is what it bounds. The logarithms of
// the odds of each two circles are added up from a handful of things (weights of our
// own, common practice, no source):
//
//   - Mottles end at the limb; scattered light beyond it is smooth. So texture is
//     measured on both sides, along the edge, with the noise taken out.
//   - Nothing within the disc takes half its light along a whole circle: where
//     brightness falls to less, the Sun ends.
//   - A bright ring along an edge is the chromosphere's, or sharpening's, which makes one
//     along a stop, too, but no higher for its step.
//   - Prominences stand on the limb, and are cut off by the stop.
//   - A stop that is seen lies about the disc; brightness seldom rises at a limb.
//   - How much of its length an edge is seen along: nothing on the Sun makes one that is
//     seen on all sides, however faint.
//   - A radius that is known beforehand (Options.Expected), if it fits any of them.
//
// A limb in light as bright as itself shows no edge in any one direction. So within an
// edge that has no rivals a faint circle is looked for by all directions together.
//
// One is taken when its odds are 0.9 and more; else the picture is refused with the
// circles, for a person to take one. The one that is taken is followed where the others
// do not come in its way.
//
// # Which limb
//
// The steepest fall of brightness outward, or, when the profile shows two steps a
// chromosphere's height apart, the outer of them. What that is on the Sun depends
// on filter and exposure: see Prior and MeasuredLayer.
//
// # How well
//
// Standard errors hold what can be seen in the picture: noise, seeing, texture, and
// how far models of the profile disagree. They do not hold a tone curve that
// shifts light across the limb unnoticed, nor the height of the limb.
package limb
