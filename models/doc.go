// Package models holds the networks Holdfast runs and says what their numbers
// mean: an ONNX file and a manifest (JSON) beside it for each.
//
// Five networks are built in:
//
//   - detector finds people in a picture and where each body's region lies
//   - heavy places 33 keypoints in one body's region
//   - full does the same three to four times faster, with larger errors
//   - thunder places 17 keypoints, without heel and toe, in about half of heavy's time
//   - shoe finds the box round a shoe; no movement is measured with it yet
//
// Two of those that find the body can be used together, as a pair whose name is both
// with a + between ([Parts]): heavy+thunder is the program's default.
//
// The first three are the open BlazePose networks, then MoveNet's Thunder and Objectron's
// network for sneakers (all Apache-2.0), converted without rounding by scripts/convert-models. A manifest carries
// everything a decoder needs that is not in the ONNX file: size, layout and value range of the picture, the meaning of
// each output, the keypoints' names, the detector's anchors, the rule by which a region follows from keypoints.
//
// NAME.calibration.json holds what was measured of a network's errors ([Calibration]);
// scripts/calibrate makes it. A network without one gets wide intervals.
//
// A folder named by the environment variable HOLDFAST_MODELS is looked in
// first. A network with a decoder that Holdfast knows (Manifest.Decoder) can so
// be dropped in without a change of code: put NAME.onnx and NAME.json there.
//
// The package also finds the ONNX Runtime library ([RuntimeLibrary]), which is
// not built in.
package models
