// Package capture finds out when a picture was taken: from a FITS header, EXIF,
// a text file that a capture program left beside the picture, or a date and time
// in the file's name.
//
// Each source is read into Stamps, times as they are written; Resolve makes one
// UTC out of them. The two steps are separate because a zone may become known
// only later, with the site.
//
// # Zones
//
// A time without a zone is never guessed. FITS is UTC by standard (FITS 4.0,
// section 9; TIMESYS says otherwise where it does). EXIF has a zone when its
// offset tag is there. A text file's times are UTC where their key or value says
// so. A time in a file's name is UTC only when it ends in Z, UT, UTC or GMT, or
// when Options.NameIsUTC says so. All others need Options.Zone, or Resolve answers
// with a *ZoneNeededError. An hour that occurs twice in autumn or not at all in
// spring is refused.
//
// # Priority
//
// Sources that bring their own zone come before those that don't, then the order
// is FITS header, EXIF, text file, file name. What the others say is compared, and
// a disagreement becomes a warning of the result.
//
// # What the zone is worth
//
// The centre of the disc moves by 0.55° of longitude an hour: a wrong zone is a
// visible error, a wrong minute (0.009°) is not.
package capture
