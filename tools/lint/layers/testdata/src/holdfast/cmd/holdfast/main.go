package main

import (
	_ "github.com/yalue/onnxruntime_go" // want `cmd must not import github.com/yalue/onnxruntime_go: networks run in vision`
	_ "holdfast/report"
	_ "holdfast/vision"
)

func main() {}
