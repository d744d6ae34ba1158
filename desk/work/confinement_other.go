//go:build !linux

package work

import "holdfast/words"

func networkWall() Wall {
	return Wall{Text: words.Say("wall.network_elsewhere", nil), Remedy: words.Say("wall.network_elsewhere_remedy", nil)}
}
