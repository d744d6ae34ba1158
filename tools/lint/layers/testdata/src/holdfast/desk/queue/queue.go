package queue

import _ "holdfast/desk" // want `holdfast/desk/queue must not import holdfast/desk: the rooms of desk import in the order upload -> desk -> .* -> refusal`
