package signal

// Line gathers the sums of a weighted least-squares fit of a straight line,
// y = level + slope x. Its zero value holds no point.
type Line struct{ w, x, y, xx, xy, yy float64 }

// Add takes in a point with its weight.
func (l *Line) Add(w, x, y float64) {
	l.w, l.x, l.xx = l.w+w, l.x+w*x, l.xx+w*x*x
	l.y, l.xy, l.yy = l.y+w*y, l.xy+w*x*y, l.yy+w*y*y
}

// Weight returns the sum of the weights.
func (l *Line) Weight() float64 { return l.w }

// Spread returns the determinant of the normal equations: the square of the weights' sum
// times the variance of x. Near 0 the points fix no slope.
func (l *Line) Spread() float64 { return l.w*l.xx - l.x*l.x }

// Slope returns the slope of the best line.
func (l *Line) Slope() float64 { return (l.w*l.xy - l.x*l.y) / l.Spread() }

// Level returns the best level under a given slope.
func (l *Line) Level(slope float64) float64 { return (l.y - slope*l.x) / l.w }

// Squares returns the weighted sum of squares that the best line leaves, slope and level
// being its own.
func (l *Line) Squares(level, slope float64) float64 { return l.yy - level*l.y - slope*l.xy }
