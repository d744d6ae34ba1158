package work

import (
	"fmt"

	"holdfast/confine"
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
	files := Wall{Text: "the processes that read clips can read all files of this user: this system has no Landlock",
		Remedy: "use Linux 5.13 or newer, with landlock among the security modules that it starts with (lsm=)"}
	if l.Files > 0 {
		files = Wall{Stands: true, Text: fmt.Sprintf("the processes that read clips can open no other file (Landlock %d)",
			l.Files)}
	}
	calls := Wall{Text: "the processes that read clips can make every system call of this user: this system filters none",
		Remedy: "use Linux with seccomp, on amd64 or arm64"}
	if l.Calls {
		calls = Wall{Stands: true, Text: "the processes that read clips can open no connection and look into no process (seccomp)"}
	}
	return []Wall{files, calls}
}
