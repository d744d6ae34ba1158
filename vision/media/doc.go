// Package media reads clips and writes videos. It decodes frames with their own timestamps, upright and with square
// pixels, and encodes pictures again, by ffmpeg's programs.
//
//	clip, err := media.Open(ctx, path)   // what the container says; no frame is decoded yet
//	frames, err := clip.Frames(ctx)
//	frame, err := frames.Next()          // io.EOF after the last; frame.Canvas() to draw on it, frame.Close()
//
// What others wrote is not believed: files are looked through before a decoder sees them ([CheckContainer]), and
// decoders reach nothing else (package confine). What goes wrong with a clip is a [ClipError].
package media
