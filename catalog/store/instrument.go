package store

import (
	"database/sql"

	"limbwatch/catalog"
)

var instruments = noun[catalog.Instrument, catalog.InstrumentID]{
	table: table{name: "instruments", noun: "instrument", letter: "I",
		columns: []string{"name", "aperture_mm", "focal_mm", "note"}},
	values: func(i catalog.Instrument) []any {
		return []any{i.Name, orNull(i.ApertureMm), orNull(i.FocalMm), i.Note}
	},
	scan: func(scan scanner) (i catalog.Instrument, err error) {
		var aperture, focal sql.Null[float64]
		err = scan(&i.ID, &i.UUID, &i.Revision, &i.Name, &aperture, &focal, &i.Note)
		i.ApertureMm, i.FocalMm = aperture.V, focal.V
		return i, err
	},
	head: func(i *catalog.Instrument) (*catalog.InstrumentID, *catalog.Record) { return &i.ID, &i.Record },
}

var setups = noun[catalog.Setup, catalog.SetupID]{
	table: table{name: "setups", noun: "set-up", letter: "U",
		columns: []string{"instrument_id", "name", "wavelength_a", "passband_a", "stacked", "reflections",
			"pixel_um", "width_px", "height_px", "surface_mm", "surface_sigma_mm", "edge_mm", "edge_sigma_mm",
			"is_default", "note"},
		refs: []reference{{"instrument_id", "instruments"}}},
	values: func(s catalog.Setup) []any {
		var reflections any
		if s.ReflectionsKnown {
			reflections = int64(s.Reflections)
		}
		surface, surfaceSigma := layerOrNull(s.Surface)
		edge, edgeSigma := layerOrNull(s.Edge)
		return []any{int64(s.Instrument), s.Name, orNull(s.WavelengthA), orNull(s.PassbandA),
			orNull(int64(s.Stacked)), reflections, orNull(s.PixelUm), orNull(int64(s.WidthPx)), orNull(int64(s.HeightPx)),
			surface, surfaceSigma, edge, edgeSigma, flag(s.Default), s.Note}
	},
	scan: func(scan scanner) (s catalog.Setup, err error) {
		var wavelength, passband, pixel sql.Null[float64]
		var stacked, reflections, width, height sql.Null[int]
		var surface, edge nullLayer
		err = scan(&s.ID, &s.UUID, &s.Revision, &s.Instrument, &s.Name, &wavelength, &passband,
			&stacked, &reflections, &pixel, &width, &height,
			&surface.height, &surface.sigma, &edge.height, &edge.sigma, &s.Default, &s.Note)
		s.WavelengthA, s.PassbandA, s.PixelUm = wavelength.V, passband.V, pixel.V
		s.Stacked, s.Reflections, s.ReflectionsKnown = stacked.V, reflections.V, reflections.Valid
		s.WidthPx, s.HeightPx = width.V, height.V
		s.Surface, s.Edge = surface.layer(), edge.layer()
		return s, err
	},
	head: func(s *catalog.Setup) (*catalog.SetupID, *catalog.Record) { return &s.ID, &s.Record },
}

// Instrument reads one instrument.
func (v *View) Instrument(id catalog.InstrumentID) (catalog.Instrument, error) {
	return get(v, &instruments, id)
}

// Instruments lists all instruments by name.
func (v *View) Instruments() ([]catalog.Instrument, error) {
	return find(v, &instruments, "1 ORDER BY t.name")
}

// InstrumentNamed finds an instrument by its exact name.
func (v *View) InstrumentNamed(name string) (catalog.Instrument, error) {
	return findOne(v, &instruments, quoted(name), "t.name = ?", name)
}

// AddInstrument keeps a new instrument.
func (tx *Tx) AddInstrument(i catalog.Instrument) (catalog.Instrument, error) {
	return add(tx, &instruments, i)
}

// EditInstrument keeps a changed instrument.
func (tx *Tx) EditInstrument(i catalog.Instrument) (catalog.Instrument, error) {
	return edit(tx, &instruments, i)
}

// RemoveInstrument takes an instrument without set-ups out of sight.
func (tx *Tx) RemoveInstrument(id catalog.InstrumentID, revision int64) error {
	return remove(tx, &instruments, id, revision)
}

// Setup reads one set-up.
func (v *View) Setup(id catalog.SetupID) (catalog.Setup, error) { return get(v, &setups, id) }

// Setups lists all set-ups, by instrument and name.
func (v *View) Setups() ([]catalog.Setup, error) {
	return find(v, &setups, "1 ORDER BY t.instrument_id, t.name")
}

// SetupsOf lists the set-ups of an instrument by name.
func (v *View) SetupsOf(id catalog.InstrumentID) ([]catalog.Setup, error) {
	return find(v, &setups, "t.instrument_id = ? ORDER BY t.name", int64(id))
}

// DefaultSetup is the one meant when none is named.
func (v *View) DefaultSetup() (catalog.Setup, error) {
	return findOne(v, &setups, "as default", "t.is_default = 1")
}

// AddSetup keeps a new set-up.
func (tx *Tx) AddSetup(s catalog.Setup) (catalog.Setup, error) {
	return preferred(tx, &setups, s, s.Default, add)
}

// EditSetup keeps a changed set-up.
func (tx *Tx) EditSetup(s catalog.Setup) (catalog.Setup, error) {
	return preferred(tx, &setups, s, s.Default, edit)
}

// RemoveSetup takes a set-up out of sight.
func (tx *Tx) RemoveSetup(id catalog.SetupID, revision int64) error {
	return remove(tx, &setups, id, revision)
}
