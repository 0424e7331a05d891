package store

import (
	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var instruments = kept(field.Instrument)

var setups = kept(field.Setup)

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
