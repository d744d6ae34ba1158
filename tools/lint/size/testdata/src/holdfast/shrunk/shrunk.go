package shrunk // want `holdfast/shrunk has 3 lines: take it out`

var A = 1
