package kinematics

import "holdfast/kinematics/body"

// InPicture returns an upright path as it lies in the picture.
func (s *Series) InPicture(p body.Path) body.Path { return p.Turned(-s.View.RollDeg) }
