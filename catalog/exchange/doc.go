// Package exchange writes the whole record of an observer as JSON Lines, and reads
// it back to the last digit: one thing a line, each with the UUID that names it in
// every catalogue, and naming others by theirs. It knows no catalogue and no files.
//
// The short ids of a catalogue (M12) are not in the file: they are good in their own
// catalogue only. Nor are the history, what was removed, or the pictures themselves.
package exchange

import "limbwatch/catalog"

// Record is what a file holds. Its ids count within the Record: those of the
// catalogue it was read from, or the place in the file it was read from.
//
//	Positions  where marks lie: written for whoever reads the file, not read back,
//	           since they follow from the rest
type Record struct {
	Observers   []catalog.Observer
	Sites       []catalog.Site
	Instruments []catalog.Instrument
	Setups      []catalog.Setup
	Sittings    []catalog.Sitting
	Counts      []catalog.Count
	Frames      []catalog.Frame
	Discs       []catalog.Disc
	Norths      []catalog.North
	Marks       []catalog.Mark
	Passages    []catalog.Passage
	Joins       []catalog.Join
	Links       []catalog.Link
	Positions   map[catalog.MarkID]catalog.Position
}

// Version is the version of the format. A file of a later one is refused. In version 1
// the names of megametres ended in _mm, as those of millimetres do; they are read as
// before, since the reader takes names in small and in capital letters alike.
const Version = 2

// Fields describes the lines of a file, field by field, with units.
const Fields = `Each line is one JSON object; "noun" says of what, "uuid" (RFC 9562) names it. What is
not known is left out. Angles are degrees, times UTC to the millisecond ending in Z,
pixels count from the centre of the top-left pixel, x right, y down. Names that end in
_Mm are megametres (Mm, 1000 km), in _mm millimetres. Other things are named by their
UUIDs.

  record      first line: version, program, written_utc
  observer    name, code, default (meant when none is named), note
  site        name, lat_deg (north positive), lon_deg (east positive), elevation_m,
              zone (IANA name), default, note
  instrument  name, aperture_mm, focal_mm, note
  setup       instrument, name, wavelength_a and passband_a (angstrom), stacked,
              reflections, pixel_um, width_px, height_px, surface and edge (the height
              of the limb it shows: height_Mm above the photosphere, sigma_Mm),
              default, note
  sitting     observer, setup, site, day (UT day of its first frame), looked (kind:
              looked or none; a kind that is missing was not looked for), seeing and
              transparency (value, scale), clock_correction_s (add to camera time),
              tuning, note
  count       sitting, tally (groups, spots, plages, filaments, prominences: places,
              elements), total, and north and south where they were told apart
  frame       sitting, path, sha256, channel, role (surface, limb, both), taken_utc,
              moment of the exposure (start, middle, end), exposure_s, sigma_s of the
              time, time_source, zone, width_px, height_px, reference, note
  disc        frame, x_px, y_px, radius_px (long semi-axis), flattening, short_axis_deg
              (counter-clockwise from up), cov_px2 (of x, y, radius: xx, yy, rr, xy,
              xr, yr), layer (height_Mm, sigma_Mm), layer_from, method, rms_px,
              width_px (of the edge), arc_deg, points, rejected, accepted, note
  north       frame, angle_deg (counter-clockwise from up), toward (celestial, solar,
              zenith), mirrored (east clockwise of north), sigma_deg, method,
              parity_odds, from (the frame it was taken over from), note
  mark        frame, kind, shape (point, line, outline), form (pixels: x, y; polar:
              position angle, radii of the limb polar_limb; carrington: latitude,
              longitude; cmd: latitude, distance from the central meridian, west
              positive), vertices (pairs), sigma_click_px, sigma_r, sigma_pa_deg,
              sigma_place_deg, polar_limb and height (height_Mm above the photosphere,
              sigma_Mm), extent (group, single), spots, label, aliases, note, observer,
              marked_utc, same_as; derived: its position as limbwatch found it, which
              is computed anew when the file is read
  passage     name, kind, height (height_Mm, sigma_Mm), note
  join        mark, passage, state (made, proposed, refused), by (program, observer),
              odds, note
  link        from (the earlier passage), to, relation (return, split, merger), state,
              by, odds, note`
