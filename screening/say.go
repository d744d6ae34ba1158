package screening

import (
	"holdfast/kinematics"
	"holdfast/kinematics/notice"
	"holdfast/words"
)

// Say returns what a notice says, in the language of the process; that of a result of before
// says what it said then. It is empty for no notice.
func Say(n kinematics.Notice) string { return SayAt("", n) }

// SayAt is [Say] in a place that may have words of its own, such as terminal, see
// [words.SayAt].
func SayAt(place string, n kinematics.Notice) string {
	if n.IsZero() {
		return ""
	}
	text := n.Message
	if text == "" {
		text = words.SayAt(place, "notice."+n.Code, n.Params)
	}
	if n.Clip != "" {
		return words.Say("of_clip", notice.Params{"clip": n.Clip, "text": text})
	}
	return text
}
