//go:build matprofile

package paint

import (
	"testing"

	"holdfast/internal/leak"
)

func TestMain(m *testing.M) { leak.Main(m) }
