// Package device is where networks run: on this computer's processor, or on what else ONNX Runtime has a part for. One
// device serves the whole process. The calibrations were measured on the processor, and the other devices have not been
// tried by the project: each has to find in a trial what the processor finds, and else is not used.
package device

import (
	"errors"
	"fmt"
	"math"
	"sync"

	ort "github.com/yalue/onnxruntime_go"

	"holdfast/models"
	"holdfast/vision/media"
)

// CPU is this computer's processor, Auto the first of the others that passes its trial.
const (
	CPU  = "cpu"
	Auto = "auto"
)

// others are the devices beside the processor, and how a session is told of them.
var others = []struct {
	name   string
	append func(*ort.SessionOptions) error
}{
	{"cuda", func(o *ort.SessionOptions) (err error) {
		cuda, err := ort.NewCUDAProviderOptions()
		if err != nil {
			return err
		}
		return errors.Join(o.AppendExecutionProviderCUDA(cuda), cuda.Destroy())
	}},
	{"coreml", func(o *ort.SessionOptions) error { return o.AppendExecutionProviderCoreMLV2(nil) }},
	{"directml", func(o *ort.SessionOptions) error { return o.AppendExecutionProviderDirectML(0) }},
	{"openvino", func(o *ort.SessionOptions) error { return o.AppendExecutionProviderOpenVINO(nil) }},
}

// Names returns what can be asked for.
func Names() []string {
	names := []string{Auto, CPU}
	for _, o := range others {
		names = append(names, o.name)
	}
	return names
}

var state struct {
	sync.Mutex
	started bool
	used    string // empty: the processor
}

// Start loads the inference library, without its telemetry, once for the whole program.
func Start() error {
	state.Lock()
	defer state.Unlock()
	if state.started || ort.IsInitialized() {
		return nil
	}
	lib, err := models.RuntimeLibrary()
	if err != nil {
		return err
	}
	ort.SetSharedLibraryPath(lib)
	if err := ort.InitializeEnvironment(ort.WithLogLevelError()); err != nil {
		return fmt.Errorf("%w: loading %s: %w", media.ErrNotInstalled, lib, err)
	}
	// What listens to the system's own event tracing (on Windows) is told nothing either.
	if err := ort.DisableTelemetry(); err != nil {
		return fmt.Errorf("%w: %w", models.ErrTelemetry, err)
	}
	state.started = true
	return nil
}

// Used names the device that networks which are loaded from now on run on.
func Used() string {
	state.Lock()
	defer state.Unlock()
	if state.used == "" {
		return CPU
	}
	return state.used
}

// Use chooses the device for networks that are loaded from now on, and returns it: the processor where the one that is
// asked for does not pass its trial. An error is one of the library itself.
func Use(name string) (used string, err error) {
	used = CPU
	if name != CPU && name != "" {
		passed, err := Usable()
		if err != nil {
			return CPU, err
		}
		for _, other := range passed {
			if other == name || name == Auto && used == CPU {
				used = other
			}
		}
	}
	state.Lock()
	defer state.Unlock()
	state.used = used
	return used, nil
}

// Usable returns the devices beside the processor that pass their trial. An error is one of the library itself.
func Usable() (names []string, err error) {
	if err := Start(); err != nil {
		return nil, err
	}
	want, err := trial(CPU)
	if err != nil {
		return nil, err
	}
	for _, o := range others {
		if got, err := trial(o.name); err == nil && alike(got, want) {
			names = append(names, o.name)
		}
	}
	return names, nil
}

// trialNetwork is a small network, and like the others in its kinds of layers.
const trialNetwork = "detector"

// trial returns what the trial's network says on a device of a picture of slanting stripes.
func trial(device string) (values []float32, err error) {
	m, err := models.Load(trialNetwork)
	if err != nil {
		return nil, err
	}
	in := m.Manifest.Input
	picture := make([]float32, 3*in.Width*in.Height)
	for i := range picture {
		picture[i] = float32(in.Min + (in.Max-in.Min)*float64((i%in.Width+i/in.Width)%64)/63)
	}
	input, err := ort.NewTensor(ort.NewShape(1, 3, int64(in.Height), int64(in.Width)), picture)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, input.Destroy()) }()
	names, outputs, err := Outputs(&m.Manifest)
	defer func() {
		for _, t := range outputs {
			err = errors.Join(err, t.Destroy())
		}
	}()
	if err != nil {
		return nil, err
	}
	session, err := open(device, m, 1, names, input, outputs)
	if err != nil {
		return nil, err
	}
	err = session.Run()
	for _, t := range outputs {
		values = append(values, t.GetData()...)
	}
	return values, errors.Join(err, session.Destroy())
}

// mostOff is how far outputs may lie apart, as a part of their spread; common practice, no source. Half precision
// leaves a thousandth.
const mostOff = 0.01

// alike says whether two devices say the same.
func alike(got, want []float32) bool {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range want {
		lo, hi = min(lo, float64(v)), max(hi, float64(v))
	}
	for i, v := range got {
		if !(math.Abs(float64(v)-float64(want[i])) <= mostOff*(hi-lo)) {
			return false
		}
	}
	return len(got) == len(want) && len(got) > 0
}

// Outputs makes the tensors that a network fills, in the order of its manifest, and returns their names as well. Those
// that were made are the caller's to destroy, also where there is an error.
func Outputs(m *models.Manifest) (names []string, tensors []*ort.Tensor[float32], err error) {
	for _, o := range m.Outputs {
		var shape []int64
		for _, d := range o.Shape {
			shape = append(shape, int64(d))
		}
		t, err := ort.NewEmptyTensor[float32](ort.NewShape(shape...))
		if err != nil {
			return names, tensors, err
		}
		names, tensors = append(names, o.Name), append(tensors, t)
	}
	return names, tensors, nil
}

// Open makes a network ready to run on the device that is used; threads is the number of cores that one run may take
// of a processor.
func Open(m *models.Model, threads int, names []string, input *ort.Tensor[float32],
	outputs []*ort.Tensor[float32]) (*ort.AdvancedSession, error) {
	return open(Used(), m, threads, names, input, outputs)
}

func open(device string, m *models.Model, threads int, names []string, input *ort.Tensor[float32],
	outputs []*ort.Tensor[float32]) (_ *ort.AdvancedSession, err error) {
	opt, err := ort.NewSessionOptions()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, opt.Destroy()) }()
	for _, o := range others {
		if o.name == device {
			if err = o.append(opt); err != nil {
				return nil, err
			}
		}
	}
	// Without graph optimisation the networks take twice the time.
	if err = opt.SetGraphOptimizationLevel(ort.GraphOptimizationLevelEnableAll); err != nil {
		return nil, err
	}
	if err = opt.SetIntraOpNumThreads(threads); err != nil {
		return nil, err
	}
	// Threads that wait by spinning gain 4 % on an idle machine of two cores, and
	// take 40 % longer when the decoder or anything else wants one of them.
	if err = opt.AddSessionConfigEntry("session.intra_op.allow_spinning", "0"); err != nil {
		return nil, err
	}
	values := make([]ort.Value, len(outputs))
	for i, t := range outputs {
		values[i] = t
	}
	return ort.NewAdvancedSessionWithONNXData(m.ONNX, []string{m.Manifest.Input.Name}, names, []ort.Value{input}, values,
		opt)
}
