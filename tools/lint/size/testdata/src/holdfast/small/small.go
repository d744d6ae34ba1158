package small

var A = 1
