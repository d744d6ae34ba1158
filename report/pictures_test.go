package report

import (
	_ "image/jpeg"
)
