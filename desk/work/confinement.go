package work

import (
	"holdfast/confine"
	"holdfast/words"
)

// Wall is one of the things that keep a process which reads a clip from the rest of
// the computer.
type Wall struct {
	Text   string // what it keeps away, or what is not kept away, and why
	Stands bool
	Remedy string // how the system can be made to allow it
}

// Confinement tries every wall that this system could have around the processes that
// read clips, and returns them. A system that refuses one gets its clips measured
// without it: say so to whoever starts Holdfast.
func Confinement() []Wall { return append([]Wall{networkWall()}, wallsOf(confine.Reached())...) }

// wallsOf says what the kernel's limits keep from the processes that read clips.
func wallsOf(l confine.Level) []Wall {
	files := Wall{Text: words.Say("wall.files_open", nil), Remedy: words.Say("wall.files_remedy", nil)}
	if l.Files > 0 {
		files = Wall{Stands: true, Text: words.Say("wall.files", words.Params{"landlock": l.Files})}
	}
	calls := Wall{Text: words.Say("wall.calls_open", nil), Remedy: words.Say("wall.calls_remedy", nil)}
	if l.Calls {
		calls = Wall{Stands: true, Text: words.Say("wall.calls", nil)}
	}
	return []Wall{files, calls}
}
