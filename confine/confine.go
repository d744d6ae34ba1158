// Package confine lets a program reach no more than it needs: the files that are named
// to it, and no network. A clip is a file from anywhere, and decoders of video have
// been broken into by such files before; what then runs in their place finds nothing to
// read, nobody to send it to and no other process to look into.
//
// On Linux the kernel holds both limits, for every user and without any set-up:
// Landlock (since 5.13) the one of files, a seccomp filter the one of system calls.
// Where it lacks one of them, or on another system, programs run all the same, and
// [Reached] says what is missing.
package confine

// Reach is all that a confined program gets at, beside its own program file, the
// system's libraries and what the system tells of itself (processors, time zone).
// Names of files that do not exist are passed over.
type Reach struct {
	// Read names files to read, and folders to read with all beneath them.
	Read []string
	// Write names files to read and write, and folders in which everything may be read,
	// written, made and removed.
	Write []string
	// Run names programs that may be started.
	Run []string
}

// Level says how far the running system confines a program.
type Level struct {
	// Files is the version of Landlock that limits files, 0: none does.
	Files int
	// Calls says that the network and other processes are out of reach.
	Calls bool
}
