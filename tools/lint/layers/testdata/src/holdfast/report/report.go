package report

import (
	_ "gocv.io/x/gocv"   // want `report must not import gocv.io/x/gocv: pictures leave vision as canvases`
	_ "holdfast/archive" // want `report must not import archive`
	_ "holdfast/screening"
)
