package large // want `holdfast/large has 8 lines: give what`

var A = 1

var B = 2

var C = 3
