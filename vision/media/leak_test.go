//go:build matprofile

package media

import (
	"testing"

	"holdfast/internal/leak"
)

func TestMain(m *testing.M) { leak.Main(m) }
