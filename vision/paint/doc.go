// Package paint draws on pictures, and finds and hides the heads in them. A [Canvas] is how a picture leaves vision:
// who draws on it needs nothing of the library that holds its pixels.
//
// Places are those of package plane. Everything drawn is anti-aliased.
package paint
