//go:build !linux

package vision

// behind does nothing where threads have no priority of their own.
func behind() {}
