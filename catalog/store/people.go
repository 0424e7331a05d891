package store

import (
	"limbwatch/catalog"
	"limbwatch/catalog/field"
)

var observers = kept(field.Observer)

var sites = kept(field.Site)

// Observer reads one observer.
func (v *View) Observer(id catalog.ObserverID) (catalog.Observer, error) {
	return get(v, &observers, id)
}

// Observers lists all observers by name.
func (v *View) Observers() ([]catalog.Observer, error) {
	return find(v, &observers, "1 ORDER BY t.name")
}

// ObserverNamed finds an observer by the exact name.
func (v *View) ObserverNamed(name string) (catalog.Observer, error) {
	return findOne(v, &observers, quoted(name), "t.name = ?", name)
}

// DefaultObserver is the one meant when none is named; a *NotFoundError when none
// was chosen.
func (v *View) DefaultObserver() (catalog.Observer, error) {
	return findOne(v, &observers, "as default", "t.is_default = 1")
}

// AddObserver keeps a new observer; the result has its id.
func (tx *Tx) AddObserver(o catalog.Observer) (catalog.Observer, error) {
	return preferred(tx, &observers, o, o.Default, add)
}

// EditObserver keeps a changed observer.
func (tx *Tx) EditObserver(o catalog.Observer) (catalog.Observer, error) {
	return preferred(tx, &observers, o, o.Default, edit)
}

// RemoveObserver takes an observer out of sight; revision is the one that was
// seen, or Newest, as with all removals.
func (tx *Tx) RemoveObserver(id catalog.ObserverID, revision int64) error {
	return remove(tx, &observers, id, revision)
}

// Site reads one site.
func (v *View) Site(id catalog.SiteID) (catalog.Site, error) { return get(v, &sites, id) }

// Sites lists all sites by name.
func (v *View) Sites() ([]catalog.Site, error) { return find(v, &sites, "1 ORDER BY t.name") }

// SiteNamed finds a site by its exact name.
func (v *View) SiteNamed(name string) (catalog.Site, error) {
	return findOne(v, &sites, quoted(name), "t.name = ?", name)
}

// DefaultSite is the one meant when none is named.
func (v *View) DefaultSite() (catalog.Site, error) {
	return findOne(v, &sites, "as default", "t.is_default = 1")
}

// AddSite keeps a new site.
func (tx *Tx) AddSite(s catalog.Site) (catalog.Site, error) {
	return preferred(tx, &sites, s, s.Default, add)
}

// EditSite keeps a changed site; positions on frames turned by its zenith follow.
func (tx *Tx) EditSite(s catalog.Site) (catalog.Site, error) {
	return preferred(tx, &sites, s, s.Default, edit)
}

// RemoveSite takes a site out of sight.
func (tx *Tx) RemoveSite(id catalog.SiteID, revision int64) error {
	return remove(tx, &sites, id, revision)
}

// preferred writes a row that may be meant when none is named; there is one such
// row at most, so an earlier one gives way first.
func preferred[T validated, ID ~int64](tx *Tx, n *noun[T, ID], row T, isDefault bool,
	write func(*Tx, *noun[T, ID], T) (T, error)) (T, error) {
	if isDefault {
		id, _ := n.head(&row)
		others, err := find(&tx.View, n, "t.is_default = 1 AND t.id <> ?", int64(*id))
		if err != nil {
			return row, err
		}
		for _, other := range others {
			former, _ := n.head(&other)
			if err := tx.alter(&n.table, int64(*former), changed, []string{"is_default"}, []any{int64(0)}); err != nil {
				return row, err
			}
		}
	}
	return write(tx, n, row)
}
