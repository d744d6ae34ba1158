//go:build matprofile

package vision

import (
	"testing"

	"holdfast/internal/leak"
)

func TestMain(m *testing.M) { leak.Main(m) }
