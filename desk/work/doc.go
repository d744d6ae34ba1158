// Package work does what handles the pictures of a clip in a process of its own.
//
// Work is the child's side, this program's hidden subcommand; Worker.Run starts it and
// watches it. The two speak JSON: one Order in, a Line for each step out. The child has a
// process group of its own, limits on memory, processor time and files, gets at no file but
// those of its order and at no network where the system allows that (package confine), and
// dies with the program that started it, which kills the group when it holds too much
// memory, takes too long or is cancelled.
//
// # Limits
//
// How the limit on memory was chosen: on two cores, analysing a clip of
// 720 by 1280 pixels takes the child 0.4 GB of resident memory, 0.7 GB as the kernel
// counts data (RLIMIT_DATA) and 3.2 GB of addresses (RLIMIT_AS); one of 2160 by 3840
// takes 0.5, 0.8 and 3.3 GB. Each ffmpeg takes 0.1 to 0.25 GB resident and up to 0.5 GB
// of data. Go and ONNX Runtime reserve addresses far beyond what they use, so the
// limit on addresses would bound little; the limit on data is set in the child, which
// all it starts inherits, and the resident memory of the group is summed from outside
// twice a second.
package work
