package drawn

import (
	"image/color"
)

// The colours: those of Okabe and Ito (2008, "Color universal design") for what
// carries a meaning, greys for the rest.
var (
	Orange    = color.NRGBA{0xE6, 0x9F, 0x00, 255}
	SkyBlue   = color.NRGBA{0x56, 0xB4, 0xE9, 255}
	Green     = color.NRGBA{0x00, 0x9E, 0x73, 255}
	blue      = color.NRGBA{0x00, 0x72, 0xB2, 255}
	Vermilion = color.NRGBA{0xD5, 0x5E, 0x00, 255}
	purple    = color.NRGBA{0xCC, 0x79, 0xA7, 255}

	Paper      = color.NRGBA{0xF4, 0xF5, 0xF6, 255}
	Ground     = color.NRGBA{0x17, 0x1B, 0x21, 255} // behind words and curves
	BandColor  = color.NRGBA{0x26, 0x2D, 0x37, 255} // a rep in the strip
	AxisColor  = color.NRGBA{0x4A, 0x54, 0x61, 255} // axes
	QuietColor = color.NRGBA{0xA9, 0xB4, 0xC0, 255} // axis words
	Outline    = color.NRGBA{0x10, 0x13, 0x18, 200} // around limbs
)

func Faded(c color.NRGBA, alpha uint8) color.NRGBA { c.A = alpha; return c }
