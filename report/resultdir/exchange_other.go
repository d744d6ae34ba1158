//go:build !linux

package resultdir

import "errors"

// exchange swaps two folders in one step, where the system can.
func exchange(a, b string) error { return errors.ErrUnsupported }
