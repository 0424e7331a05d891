package catalog

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// Observer is a person who observes. Only the name is needed.
type Observer struct {
	Record
	ID      ObserverID
	Name    string
	Code    string // as a club knows the observer; may be empty
	Default bool   // meant when none is named
	Note    string
}

// Validate says what is wrong with the observer, or nil.
func (o Observer) Validate() error { return validateName("observer", o.Name) }

// Site is where a telescope stands.
//
//	LatDeg        geographic latitude, north positive, −90 to 90
//	LonDeg        geographic longitude, east positive, −180 to 180
//	ElevationM    above the sea
//	Zone          IANA name of its time zone, as in Europe/Lisbon; may be empty
//	Default       meant when none is named
type Site struct {
	Record
	ID             SiteID
	Name           string
	LatDeg, LonDeg float64
	ElevationM     float64
	Zone           string
	Default        bool
	Note           string
}

// Validate says what is wrong with the site, or nil.
func (s Site) Validate() error {
	if err := validateName("site", s.Name); err != nil {
		return err
	}
	if err := within("site latitude", "degrees", s.LatDeg, -90, 90); err != nil {
		return err
	}
	if err := within("site longitude", "degrees, east positive", s.LonDeg, -180, 180); err != nil {
		return err
	}
	if err := within("site elevation", "m", s.ElevationM, -500, 9000); err != nil {
		return err
	}
	_, err := s.Location()
	return err
}

// Location is the site's time zone; UTC when none is written down (see Zone).
func (s Site) Location() (*time.Location, error) {
	// "Local" would be the zone of whatever machine opens the catalogue.
	if s.Zone == "Local" {
		return nil, fmt.Errorf("site zone %q: want an IANA name, as in Europe/Lisbon", s.Zone)
	}
	zone, err := time.LoadLocation(s.Zone)
	if err != nil {
		return nil, fmt.Errorf("site zone %q: want an IANA name, as in Europe/Lisbon", s.Zone)
	}
	return zone, nil
}

// maxText bounds what people type, in bytes: a name is no essay, and a file
// handed in as a note is a mistake.
const (
	maxName = 200
	maxText = 20_000
)

func validateName(noun, name string) error {
	switch {
	case strings.TrimSpace(name) == "":
		return fmt.Errorf("%s without a name", noun)
	case strings.TrimSpace(name) != name:
		return fmt.Errorf("%s name %q begins or ends with a blank", noun, name)
	case len(name) > maxName:
		return fmt.Errorf("%s name of %d bytes, at most %d", noun, len(name), maxName)
	}
	return validateSteerless(noun+" name", name)
}

func validateText(noun, text string) error {
	if len(text) > maxText {
		return fmt.Errorf("%s of %d bytes, at most %d", noun, len(text), maxText)
	}
	return nil
}

// within refuses what is outside low to high, and what is no number.
func within(what, unit string, value, low, high float64) error {
	if !(value >= low && value <= high) {
		return errors.New(strings.TrimRight(fmt.Sprintf("%s %g: want %g to %g %s", what, value, low, high, unit), " "))
	}
	return nil
}

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
