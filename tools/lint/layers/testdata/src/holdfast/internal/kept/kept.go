package kept

import _ "holdfast/models" // tests' aids may look everywhere
