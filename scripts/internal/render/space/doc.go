// Package space has vectors, turns and rigid motions. X is to the athlete's left, Y up, Z forward, in metres; a turn
// about X by a positive angle tips what points up forward.
package space
