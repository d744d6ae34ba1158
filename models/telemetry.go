package models

// #include <stdlib.h>
import "C"

import (
	"fmt"
	"os"
	"unsafe"

	"holdfast/words"
)

// ErrTelemetry: the telemetry of ONNX Runtime could not be turned off, so the
// library must not be loaded.
var ErrTelemetry error = words.Error("telemetry")

// telemetryEnv is the variable that the library asks when it is loaded: at 1 it makes
// no collector, no device id and no queue of events. Turning telemetry off by a call
// comes too late, for all three are there by then.
const telemetryEnv = "ORT_DISABLE_TELEMETRY"

// TurnTelemetryOff turns the telemetry of ONNX Runtime off for this process and all
// that it starts, whatever the user's environment says. It has to come before the
// library is loaded; RuntimeLibrary does it. Errors: ErrTelemetry.
func TurnTelemetryOff() error {
	return setForC(telemetryEnv, "1", os.Setenv)
}

// setForC sets a variable with set, and makes sure that the C library sees it: Go
// keeps an environment of its own, which reaches C through cgo alone.
func setForC(name, value string, set func(name, value string) error) error {
	if environmentOfC(name) == value {
		return nil
	}
	if err := set(name, value); err != nil {
		return fmt.Errorf("%w (%s: %w)", ErrTelemetry, name, err)
	}
	if got := environmentOfC(name); got != value {
		return words.Because(ErrTelemetry, "telemetry_c", words.Params{"name": name, "has": got, "wants": value})
	}
	return nil
}

// environmentOfC returns what getenv says, "" for a variable that is not there.
func environmentOfC(name string) string {
	key := C.CString(name)
	defer C.free(unsafe.Pointer(key))
	return C.GoString(C.getenv(key))
}
