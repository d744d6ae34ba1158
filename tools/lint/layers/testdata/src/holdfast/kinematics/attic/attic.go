package attic

import _ "holdfast/kinematics/body" // want `holdfast/kinematics/attic is no room of kinematics yet: give it a place in tools/lint/layers`
