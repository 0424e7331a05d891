// Package limb finds the edge of the Sun's disc in a picture, and how well it is
// known.
//
// # How
//
//   - On a picture shrunk to some 320 pixels, circles are proposed from pairs of
//     edge points and the slopes at them (a random sample consensus, Fischler &
//     Bolles 1981, Comm. ACM 24, 381), and weighed by the length of edge along
//     them. One of them is the limb, by the rules of choose.
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
