// Package body makes the mesh of an athlete, dressed, with a skeleton inside ([Body]), and bends it by the segments of
// a figure.
package body
