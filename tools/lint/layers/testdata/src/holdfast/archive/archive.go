package archive

import _ "holdfast/screening"
