package body

import _ "os" // want `kinematics must not import os: it computes from its arguments alone`
