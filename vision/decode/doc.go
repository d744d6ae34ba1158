// Package decode reads points of the body from the numbers that a network puts out, in pure Go.
package decode
