// Package trace turns what was seen of the athlete in single frames into the way of
// every point through the clip: exchanged legs are put back ([RepairSwaps]), points that
// jump away for one frame are left out ([RejectSpikes]), near side and facing are found,
// and both sides' points are carried to a uniform time base ([New]). The picture's turn
// against the vertical is taken out first ([TurnUpright]): from here on every point is
// upright, x right and y down, and only who draws turns points back ([body.Path.Turned]).
//
// Beside the way itself it tells what the points say of the camera: the vertical
// ([RollFromFlights]), the turn away from side-on ([FindView]) and the clock of the clip
// ([ClockFactor]).
package trace
