package screening

import _ "holdfast/internal/kept" // tests share it
