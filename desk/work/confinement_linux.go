package work

import (
	"errors"
	"syscall"

	"holdfast/words"
)

// networkWall starts a process as a worker is started. No program has an empty name:
// that it is not found says that all before was allowed.
func networkWall() Wall {
	_, err := syscall.ForkExec("", []string{"nothing"}, &syscall.ProcAttr{Sys: attributes()[0]})
	return networkWallOf(err)
}

func networkWallOf(err error) Wall {
	if errors.Is(err, syscall.ENOENT) {
		return Wall{Stands: true, Text: words.Say("wall.network", nil)}
	}
	return Wall{
		Text:   words.Say("wall.network_open", words.Params{"error": err}),
		Remedy: words.Say("wall.network_remedy", nil),
	}
}
