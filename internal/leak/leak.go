//go:build matprofile

// Package leak has the picture library count its matrices, with the build tag matprofile.
package leak

import (
	"bytes"
	"fmt"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// Main runs the tests of a package: none of their matrices may be left when they have ended.
func Main(m *testing.M) {
	code := m.Run()
	if n := gocv.MatProfile.Count(); n > 0 {
		var b bytes.Buffer
		_ = gocv.MatProfile.WriteTo(&b, 1)
		fmt.Fprintf(os.Stderr, "%d pictures were not freed:\n%s\n", n, b.String())
		code = 1
	}
	os.Exit(code)
}
