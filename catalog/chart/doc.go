// Package chart draws the observer's record: the annotated disc of a day, the strip
// map of a rotation, latitudes against time, daily numbers, one feature's passage,
// the rotation curve, and what is coming.
//
// A chart is drawn once on a [canvas.Canvas], which is then written as SVG or PNG
// (Write). Everything it shows is handed to it: values go in, a drawing comes out;
// nothing is read from a catalogue, a file or the clock.
//
// # The language of the charts
//
// Kinds differ by their shape first, so that they are told apart in grey print and
// by any eye, and by colour second (Okabe & Ito's set, darker partners on paper,
// brighter ones on pictures and at night):
//
//	sunspot     small open ring       blue
//	plage       dashed outline        yellow to orange
//	filament    line with a dark rim  green
//	prominence  bracket on the limb   orange to vermilion
//	other       diamond               purple
//
// What was observed is drawn full, what is computed is thin and hollow. A day or a
// longitude that nobody looked at is a gap, hatched or left empty, and never a zero.
// East is left in every picture that is turned to a north; Carrington longitude
// grows to the right.
//
// # What an SVG says to the page that holds it
//
// All that stands for something in the catalogue is a group with a <title> to be read
// by a pointer that rests on it, and with attributes that name it by its short id:
//
//	data-mark     the mark, as M12
//	data-frame    the frame it stands on, or that was looked at, as F3
//	data-passage  the passage it belongs to, as P7
//	data-day      its UT day, as 2026-03-14
//
// With Options.MarkHref and DayHref such a group is a link. An SVG has no script and no
// style of its own, only presentation attributes; its pictures are data: URLs.
package chart
