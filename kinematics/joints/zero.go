package joints

import (
	"holdfast/kinematics/body"
	"holdfast/kinematics/notice"
)

// mostZeroDeg is how far, in degrees, an angle in standing may lie beyond straight, or beyond
// what upright people read, before it is stated. Common practice, no source.
const mostZeroDeg = 10

// uprightDeg is what upright people read, in degrees: flesh and clothes lie over the joints,
// and so do a network's points and marks made by hand. Seven filmed athletes who stood upright
// read 8 to 16 at the knee, 1 to 17 at the hip and -1 to 12 at the trunk.
var uprightDeg = body.StandAngles{body.KneeFlexion: 9, body.HipFlexion: 8, body.TrunkLean: 4}

// ZeroNotices state the angles of standing in which the athlete seems to have stood bent:
// they are taken for the athlete's zero.
func ZeroNotices(offsetDeg *body.StandAngles) []notice.Notice {
	var bent []notice.Params
	for _, a := range []body.Angle{body.KneeFlexion, body.HipFlexion, body.TrunkLean} {
		if deg := offsetDeg[a]; deg > uprightDeg[a]+mostZeroDeg || deg < -mostZeroDeg {
			bent = append(bent, notice.New("bent_"+a.String(), notice.Params{"deg": deg}).Plain())
		}
	}
	if len(bent) == 0 {
		return nil
	}
	return notice.List("zero_doubted", notice.Params{"bent": bent})
}
