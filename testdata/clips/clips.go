// Package clips holds the clips that come with the program: an invented, rendered
// athlete squatting slowly, fast, and with jumps. LICENSES.md says where they come
// from.
package clips

import "embed"

// FS holds the clips of Example.
//
//go:embed slow.mp4 fast.mp4 jump.mp4
var FS embed.FS

// Example names the clips in order of difficulty.
var Example = []string{"slow.mp4", "fast.mp4", "jump.mp4"}
