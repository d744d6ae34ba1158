// Package render makes clips of invented athletes whose joint angles are known: a human mesh in clothes, posed by
// joint curves over time, drawn as a phone would film it, with the truth of every frame beside it.
//
// The parts, in the order in which a clip passes through them:
//
//	scene.go       a seed becomes an athlete, a room, a light and a camera
//	body           the mesh of that athlete, dressed, with a skeleton inside
//	motion         joint curves over time: squats, jumps, calf raises, hinges, presses; free movements, in which
//	               pelvis and feet go their own way, with things beside the athlete: walking, sitting on a chair;
//	               a curve's instant becomes a pose: feet planted, mass over the feet, tremor and sway
//	               a pose becomes joints and turned segments (forward kinematics; legs solved to planted feet)
//	body           segments become a bent mesh
//	raster.go      the mesh becomes a layer of colours
//	picture.go     layer, room, shadow, blur and noise become a frame
//	truth.go       the same instant becomes numbers
//	clip.go        frames become a compressed clip
//
// Axes of the athlete: X to the athlete's left, Y up, Z forward; metres. The floor is Y = 0. Angles are degrees.
// A turn about X by a positive angle tips what points up forward.
package render
