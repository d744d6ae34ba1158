// Package testruntime lets tests find the ONNX Runtime library that scripts/setup put
// into the project's folder: a test's program lies in a temporary folder, far from it.
// Tests import it for that effect alone.
package testruntime

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"holdfast/models"
)

func init() {
	if !testing.Testing() {
		panic("holdfast/models/testruntime is for tests: a program must not look for libraries in the folder of its source")
	}
	if os.Getenv(models.RuntimeEnv) != "" {
		return
	}
	_, file, _, _ := runtime.Caller(0)
	project := filepath.Dir(filepath.Dir(filepath.Dir(file)))
	if library := models.RuntimeIn(filepath.Join(project, ".runtime", "onnxruntime")); library != "" {
		_ = os.Setenv(models.RuntimeEnv, library) // a test that needs it will say that it is missing
	}
}
