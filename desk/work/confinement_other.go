//go:build !linux

package work

func networkWall() Wall {
	return Wall{Text: "the processes that read clips have this user's network: only Linux has an empty one for them",
		Remedy: "run Holdfast on Linux"}
}
