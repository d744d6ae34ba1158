package work

import (
	"errors"
	"fmt"
	"syscall"
)

// networkWall starts a process as a worker is started. No program has an empty name:
// that it is not found says that all before was allowed.
func networkWall() Wall {
	_, err := syscall.ForkExec("", []string{"nothing"}, &syscall.ProcAttr{Sys: attributes()[0]})
	return networkWallOf(err)
}

func networkWallOf(err error) Wall {
	if errors.Is(err, syscall.ENOENT) {
		return Wall{Stands: true, Text: "the processes that read clips have no network"}
	}
	return Wall{
		Text: fmt.Sprintf("the processes that read clips have this user's network: the system refuses them an empty one (%v)", err),
		Remedy: "let ordinary users have user namespaces: sysctl user.max_user_namespaces, kernel.unprivileged_userns_clone, " +
			"kernel.apparmor_restrict_unprivileged_userns",
	}
}
