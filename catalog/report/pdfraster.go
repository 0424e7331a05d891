package report

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"image/png"
	"runtime"
	"sync"
)

// raster is a chart as it goes into a PDF.
type raster struct {
	name, format string
	data         []byte
}

// rasterDensity is the pixels to a unit of a chart: some 240 to the inch at the
// size that charts have on paper.
const rasterDensity = 2

// rasters draws all charts of a document, as many at a time as there are processors.
func rasters(d Document) (map[*Figure]raster, error) {
	var all []*Figure
	perRow := map[*Figure]int{}
	for _, s := range d.Sections {
		for _, b := range s.Blocks {
			if b.Figures == nil {
				continue
			}
			for i := range b.Figures.Items {
				f := &b.Figures.Items[i]
				all, perRow[f] = append(all, f), b.Figures.PerRow
			}
		}
	}
	drawn, failed := make([]raster, len(all)), make([]error, len(all))
	work := make(chan int)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range work {
				drawn[i], failed[i] = rasterOf(*all[i], perRow[all[i]])
				drawn[i].name = fmt.Sprintf("chart%d", i)
			}
		})
	}
	for i := range all {
		work <- i
	}
	close(work)
	workers.Wait()
	byFigure := make(map[*Figure]raster, len(all))
	for i, f := range all {
		if failed[i] != nil {
			return nil, failed[i]
		}
		byFigure[f] = drawn[i]
	}
	return byFigure, nil
}

// rasterOf draws a chart: small ones, which hold pictures, as JPEG; those that are
// mostly lines without loss.
func rasterOf(f Figure, perRow int) (raster, error) {
	m, err := f.Chart.Raster(rasterDensity)
	if err != nil {
		return raster{}, err
	}
	var b bytes.Buffer
	if perRow > 1 {
		err = jpeg.Encode(&b, m, &jpeg.Options{Quality: 90})
		return raster{format: "JPG", data: b.Bytes()}, err
	}
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	err = encoder.Encode(&b, m)
	return raster{format: "PNG", data: b.Bytes()}, err
}
