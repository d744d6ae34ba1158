package web

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
func Confinement() []Wall { return []Wall{networkWall()} }
