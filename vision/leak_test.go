//go:build matprofile

package vision

import (
	"bytes"
	"fmt"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// With the build tag matprofile the picture library counts its matrices: none
// may be left when the tests have ended.
func TestMain(m *testing.M) {
	code := m.Run()
	if n := gocv.MatProfile.Count(); n > 0 {
		var b bytes.Buffer
		_ = gocv.MatProfile.WriteTo(&b, 1)
		fmt.Fprintf(os.Stderr, "%d pictures were not freed:\n%s\n", n, b.String())
		code = 1
	}
	os.Exit(code)
}
