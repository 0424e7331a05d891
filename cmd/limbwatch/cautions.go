package main

import "strings"

// cautions are the usual warnings for eyes and equipment. They stand wherever an
// observer begins: in the help, on the page, in the report.
var cautions = []string{
	"Never look at the Sun through a telescope, binoculars, a finder or a camera without the filters that their maker prescribes for it. Concentrated sunlight burns the eye in an instant, and without pain.",
	"A solar filter sits in front of the telescope, made for it, secured against wind. A narrow-band telescope needs its filter set complete; never take it apart to see more.",
	"Viewers for the bare eye (ISO 12312-2) are for the bare eye alone: never look through any optics while wearing them.",
	"Inspect every filter each time against a bright lamp. One that is scratched, pinholed, loose or doubtful goes into the bin.",
	"Cover or take off the finder, and aim by the shadow of the tube. Never leave a telescope unattended in sunlight; cap it when you step away; watch over children.",
	"The makers' instructions and your eye doctor's advice stand above anything said here.",
}

// wrapped breaks text into lines of at most width bytes, for the terminal.
func wrapped(text string, width int) string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && len(line)+1+len(word) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return strings.Join(append(lines, line), "\n")
}
