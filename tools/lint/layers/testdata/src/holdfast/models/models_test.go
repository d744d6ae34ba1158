package models

import _ "github.com/yalue/onnxruntime_go" // the tests of models compare the networks
