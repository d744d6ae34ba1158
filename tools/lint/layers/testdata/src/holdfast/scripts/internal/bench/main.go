package main

import (
	_ "gocv.io/x/gocv" // developers' tools may look everywhere
	_ "holdfast/vision"
)

func main() {}
