package joints

import (
	"math"

	"holdfast/kinematics/body"
	"holdfast/kinematics/correct"
	"holdfast/kinematics/signal"
)

// heelOverFloor is how high, in leg lengths, the heel point of a flat foot may lie
// over the floor: 5 cm, for shoes with a sole. Common practice, no source.
const heelOverFloor = 0.06

// judgeByFloor moves the level that heel rise and the pitch of the foot are judged
// against so that the heel of a flat foot lies on the coach's floor, or over it by
// no more than a heel point does. The athlete's own flat foot is known to a few
// millimetres and a line drawn by hand to a centimetre or two, so that within that
// range the foot's own level stays. What the line can tell is that the heel never
// came down in the whole clip, or that the level lies in the floor.
func judgeByFloor(foot *footMotion, heel, toe *body.Path, legPx float64, airborne []bool, floor *correct.Floor) {
	if floor == nil {
		return
	}
	footPx := body.MedianLength(heel, toe)
	over := signal.NaNs(len(airborne))
	for i := range over {
		if !airborne[i] {
			lineY := floor.Y1 + (heel.X[i]-floor.X1)*(floor.Y2-floor.Y1)/(floor.X2-floor.X1)
			over[i] = lineY - heel.Y[i] - foot.heelRise[i]*footPx
		}
	}
	level := signal.Median(over) // of the heel point of the flat foot, pixels over the line
	by := level - max(0, min(heelOverFloor*legPx, level))
	if !(math.Abs(by) > 0) || !(footPx > 0) {
		return
	}
	lever := min(footPx, body.BallLegLengths*legPx)
	turn := math.Asin(max(-1, min(1, by/lever))) * body.DegPerRad
	for i := range foot.heelRise {
		foot.heelRise[i] = max(0, foot.heelRise[i]+by/footPx)
		if !airborne[i] {
			foot.pitchDeg[i] = min(0, foot.pitchDeg[i]-turn)
		}
	}
}
