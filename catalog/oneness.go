package catalog

// Oneness says which of some things, by number, are one and the same: what is joined to
// what is joined is one with it too (a union-find).
type Oneness []int

// Apart begins with n things of which none is another. What stood is forgotten, and its
// memory used again.
func (o Oneness) Apart(n int) Oneness {
	o = o[:0]
	for i := range n {
		o = append(o, i)
	}
	return o
}

// Of is the number that stands for a thing and all that are one with it.
func (o Oneness) Of(i int) int {
	for o[i] != i {
		o[i] = o[o[i]] // a shorter way for whoever comes next
		i = o[i]
	}
	return i
}

// Join makes two things one.
func (o Oneness) Join(i, j int) {
	a, b := o.Of(i), o.Of(j)
	o[max(a, b)] = min(a, b)
}
