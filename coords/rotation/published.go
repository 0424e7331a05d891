package rotation

import (
	"math"
	"slices"
)

// microradianPerSecond is 1 µrad/s in degrees a day.
const microradianPerSecond = 1e-6 * 86400 * 180 / math.Pi

// published holds the laws that were printed. Where a source says "as quoted in", the
// paper itself could not be read. Where there is no source but a comment "from memory",
// nothing that could be read bears the figures out: no source is printed for them.
var published = []Law{
	{
		Name: "carrington", Tracer: "frame", A: 14.1844,
		Source: "definition of Carrington's system, 25.38 days (IAU rotation elements)",
	},
	{
		Name: "newton-nunn", Tracer: "sunspot", A: 14.377, B: -2.77,
		Source: "Newton & Nunn 1951: recurrent spots 1878-1944; as quoted by Landman & Takushi",
	},
	{
		Name: "newton-nunn-2.96", Tracer: "sunspot", A: 14.38, B: -2.96,
		Source: "the other form in use under Newton & Nunn 1951; second hand",
	},
	{
		Name: "glossary", Tracer: "sunspot", A: 14.38, B: -2.7,
		Source: "round figures of a space weather glossary",
	},
	{
		Name: "howard-gilman", Tracer: "sunspot", A: 14.522, B: -2.84,
		// From memory: Howard, Gilman & Gilman 1984, single spots, Mount Wilson.
	},
	{
		Name: "balthasar", Tracer: "sunspot", A: 14.551, B: -2.87,
		// From memory: Balthasar, Vázquez & Wöhl 1986, groups 1874-1976.
	},
	{
		Name: "poljancic-beljan", Tracer: "sunspot", A: 14.47, B: -2.66, SigmaA: 0.01, SigmaB: 0.10,
		Source: "Poljančić Beljan et al. 2017: groups 1964-2016",
	},
	{
		Name: "jha", Tracer: "sunspot", A: 14.381, B: -2.72, SigmaA: 0.004, SigmaB: 0.04,
		Source: "Jha et al. 2021 (arXiv 2101.01941): spots 1923-2011, Kodaikanal",
	},
	{
		Name: "amateurs-2001", Tracer: "sunspot", A: 14.39, B: -2.32, SigmaA: 0.03, SigmaB: 0.29,
		Source: "German amateur spot network 2001: 762 pairs",
	},
	{
		Name: "mishra", Tracer: "plage", A: 14.61, B: -2.18, C: -1.10, SigmaA: 0.04, SigmaB: 0.37, SigmaC: 0.61,
		Source: "Mishra et al. 2024 (arXiv 2311.18800): Ca II K plage 1907-2007",
	},
	{
		Name: "dazambuja", Tracer: "filament", A: 14.42, B: -1.40, C: -1.33,
		// From memory: d'Azambuja & d'Azambuja 1948, filaments.
	},
	{
		Name: "allen-filaments", Tracer: "filament", A: 14.48, B: -2.16,
		Source: "Allen 2000, p. 362: filaments; as quoted by Bernasconi et al. 2005, who call it synodic by mistake",
	},
	{
		Name: "brajsa", Tracer: "filament", A: 14.45, B: -0.11, C: -3.69,
		// From memory: Brajša et al. 1991, filaments.
	},
	{
		Name: "howard", Tracer: "magnetic",
		A: 2.894 * microradianPerSecond, B: -0.428 * microradianPerSecond, C: -0.370 * microradianPerSecond,
		Source: "Howard, Harvey & Forgach 1990 (Solar Physics 130, 295): small magnetic features; 2.894 -0.428 -0.370 µrad/s as quoted in SunPy",
	},
	{
		Name: "snodgrass", Tracer: "magnetic",
		A: 2.851 * microradianPerSecond, B: -0.343 * microradianPerSecond, C: -0.474 * microradianPerSecond,
		Source: "Snodgrass 1983 (Astrophys. J. 270, 288): magnetic pattern; 2.851 -0.343 -0.474 µrad/s as quoted in SunPy",
	},
	{
		Name: "snodgrass-ulrich", Tracer: "magnetic", A: 14.252, B: -1.678, C: -2.401,
		Source: "Snodgrass & Ulrich 1990: magnetic features",
	},
	{
		Name: "snodgrass-ulrich-doppler", Tracer: "plasma", A: 14.713, B: -2.396, C: -1.787, SigmaA: 0.0491, SigmaB: 0.188, SigmaC: 0.253,
		Source: "Snodgrass & Ulrich 1990: Doppler features (supergranules)",
	},
	{
		Name: "howard-harvey", Tracer: "plasma", A: 13.76, B: -1.74, C: -2.19,
		Source: "Howard & Harvey 1970: spectroscopic",
	},
	{
		Name: "allen", Tracer: "handbook", A: 14.44, B: -3.0,
		Source: "Allen, Astrophysical Quantities: the Sun; as quoted in SunPy",
	},
}

// Laws are the published laws, in the order in which they should be shown.
func Laws() []Law { return slices.Clone(published) }

// mustFind is the published law of a name that stands in this package.
func mustFind(name string) Law {
	for _, l := range published {
		if l.Name == name {
			return l
		}
	}
	panic("rotation: no law " + name)
}
