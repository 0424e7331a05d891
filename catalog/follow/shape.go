package follow

import "limbwatch/coords"

func middleVar(shape []coords.Heliographic) (lon, lat float64) { return 0, 0 }
