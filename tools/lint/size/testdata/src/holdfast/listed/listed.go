package listed // want `holdfast/listed has 7 lines, and is to be split, not to grow beyond 6`

var A = 1

var B = 2

var C = 3
