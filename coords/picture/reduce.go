package picture

// reduce turns a raster into a grey picture as shown: one channel, oriented.
func reduce(src raster, depth Depth, ceiling float64, orientation Orientation, want Channel) *Picture {
	width, height := src.size()
	p := &Picture{Depth: depth, Channel: Grey, Why: "the file is grey"}
	p.Width, p.Height = orientation.size(width, height)
	if src.channels() == 3 {
		l := sampleLevels(src, ceiling)
		p.Colour = l.unequal > mayDiffer
		if p.Channel, p.Why = want, "as asked"; want == Auto || want == Grey {
			p.Channel, p.Why = l.choose()
		}
	}
	if f, ok := src.(planar); ok && len(f.Planes) == 1 && orientation.upright() {
		p.Grey = f.Planes[0]
	} else {
		p.Grey = make([]float32, width*height)
		fill(p.Grey, src, orientation, p.Channel)
	}
	p.finish(ceiling)
	return p
}

// fill writes every row of src to its place as shown.
func fill(grey []float32, src raster, orientation Orientation, channel Channel) {
	width, height := src.size()
	rows := newRows(width)
	w := channel.weights()
	for y := range height {
		src.row(y, rows)
		line := rows[0]
		switch {
		case src.channels() == 1 || channel == Red:
		case channel == Green:
			line = rows[1]
		case channel == Blue:
			line = rows[2]
		default:
			for x, r := range line { // in this form three equal channels give exactly their level
				line[x] = r + w[1]*(rows[1][x]-r) + w[2]*(rows[2][x]-r)
			}
		}
		start, step := orientation.line(y, width, height)
		if step == 1 {
			copy(grey[start:start+width], line)
			continue
		}
		for x, v := range line {
			grey[start+x*step] = v
		}
	}
}

// Orientation is how a stored picture lies against the one to be shown: the
// value of the Orientation tag of TIFF 6.0 (page 36) and EXIF, 1 to 8. Zero, or
// anything else, counts as 1: as stored.
type Orientation int

func (o Orientation) upright() bool { return o < 2 || o > 8 }

// size of the picture as shown.
func (o Orientation) size(width, height int) (int, int) {
	if o >= 5 && o <= 8 {
		return height, width
	}
	return width, height
}

// line tells where row y of the stored picture goes: the index of its first
// pixel in the picture as shown, and the step from pixel to pixel.
func (o Orientation) line(y, width, height int) (start, step int) {
	switch o {
	case 2: // mirrored left to right
		return y*width + width - 1, -1
	case 3: // turned by half a turn
		return (height-1-y)*width + width - 1, -1
	case 4: // mirrored top to bottom
		return (height - 1 - y) * width, 1
	case 5: // rows become columns
		return y, height
	case 6: // row 0 is the right-hand side
		return height - 1 - y, height
	case 7: // rows become columns, from the far corner
		return (width-1)*height + height - 1 - y, -height
	case 8: // row 0 is the left-hand side, from the bottom
		return (width-1)*height + y, -height
	}
	return y * width, 1
}
