package extra

import _ "holdfast/models" // want `holdfast/extra has no place in the house yet`
