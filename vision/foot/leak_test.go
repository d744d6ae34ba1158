//go:build matprofile

package foot

import (
	"testing"

	"holdfast/internal/leak"
)

func TestMain(m *testing.M) { leak.Main(m) }
