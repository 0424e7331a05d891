package catalog

import (
	"fmt"
	"time"

	"limbwatch/coords"
)

// Mark is one thing marked on one frame. A thing seen twice, on a surface and on
// a limb exposure, is two marks and one sighting (GroupSightings).
//
//	Frame     always one: a mark without a picture hangs on a frame without a file
//	Height    above the photosphere as given by the observer; nil: the kind's prior,
//	          or what following its passage found
//	Extent    of a sunspot mark: a whole group or a single spot
//	Sizes     its area, length and tilt as given where it was not drawn
//	Spots     how many spots the observer counted in it; 0: not counted
//	Label     what the observer calls it
//	Aliases   other names, such as an official number
//	Observer  who marked it; MarkedAt when, in UTC
//	SameAs    the observer's word that this is the same thing as that mark of the
//	          same sitting
type Mark struct {
	Record
	ID       MarkID
	Frame    FrameID
	Kind     Kind
	Geometry Geometry
	Height   *coords.Layer
	Sizes    Sizes
	Extent   Extent
	Spots    int
	Label    string
	Aliases  []string
	Note     string
	Observer ObserverID
	MarkedAt time.Time
	SameAs   MarkID
}

// Validate says what is wrong with the mark, or nil.
func (m Mark) Validate() error {
	if _, ok := kindNames[m.Kind]; !ok {
		return fmt.Errorf("mark without a kind")
	}
	if m.Frame <= 0 {
		return fmt.Errorf("mark without a frame")
	}
	if err := m.Geometry.Validate(); err != nil {
		return err
	}
	if m.Kind != Sunspot && (m.Extent != ExtentUnknown || m.Spots != 0) {
		return fmt.Errorf("%s with a count of spots: only a sunspot has one", m.Kind)
	}
	if int(m.Extent) >= len(extentNames) {
		return fmt.Errorf("extent %d has no name", uint8(m.Extent))
	}
	if m.Spots < 0 || m.Spots > 10_000 {
		return fmt.Errorf("%d spots: want 0 to 10000", m.Spots)
	}
	if m.Extent == SingleSpot && m.Spots > 1 {
		return fmt.Errorf("single spot with %d spots", m.Spots)
	}
	if m.Height != nil {
		if err := within("height", "Mm", m.Height.HeightMm, -5, 5000); err != nil {
			return err
		}
		if err := within("error of the height", "Mm", m.Height.SigmaMm, 0, 5000); err != nil {
			return err
		}
	}
	if err := m.Sizes.Validate(); err != nil {
		return err
	}
	if m.SameAs != 0 && m.SameAs == m.ID {
		return fmt.Errorf("mark %s cannot be the same as itself", m.ID)
	}
	for _, name := range append([]string{m.Label}, m.Aliases...) {
		if len(name) > maxName {
			return fmt.Errorf("label of %d bytes, at most %d", len(name), maxName)
		}
		if err := validateSteerless("label", name); err != nil {
			return err
		}
	}
	for _, name := range m.Aliases {
		if name == "" {
			return fmt.Errorf("mark with an empty alias")
		}
	}
	if m.MarkedAt.IsZero() {
		return fmt.Errorf("mark that does not say when it was made")
	}
	return validateText("note", m.Note)
}

// Extent tells a group of spots from a single one. Its zero is not known.
type Extent uint8

// The extents of a sunspot mark.
const (
	ExtentUnknown Extent = iota
	SpotGroup
	SingleSpot
)

var extentNames = []string{"", "group", "single"}

// String is the extent's name as it stands in SQL and JSON, empty when unknown.
func (e Extent) String() string { return nameOf(extentNames, uint8(e), "Extent") }

// ParseExtent reads an extent's name.
func ParseExtent(text string) (Extent, error) {
	return named[Extent](extentNames, text, "extent of a sunspot", "group or single")
}

// MarshalText writes the extent's name.
func (e Extent) MarshalText() ([]byte, error) { return []byte(e.String()), nil }
