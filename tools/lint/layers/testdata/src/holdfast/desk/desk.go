package desk

import _ "holdfast/archive"
