//go:build matprofile

package camera

import (
	"testing"

	"holdfast/internal/leak"
)

func TestMain(m *testing.M) { leak.Main(m) }
