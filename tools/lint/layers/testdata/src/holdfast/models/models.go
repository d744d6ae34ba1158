package models

import _ "gocv.io/x/gocv" // want `models must not import gocv.io/x/gocv: pictures leave vision` `models must not import gocv.io/x/gocv: it is plain files`
