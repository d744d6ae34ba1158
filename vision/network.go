package vision

import (
	"errors"
	"fmt"
	"image"
	"image/color"

	ort "github.com/yalue/onnxruntime_go"
	"gocv.io/x/gocv"

	"holdfast/models"
	"holdfast/vision/device"
)

// network is one ONNX file made ready to run, with its tensors. It is not safe
// for use by several goroutines.
type network struct {
	manifest models.Manifest
	session  *ort.AdvancedSession
	input    *ort.Tensor[float32]
	outputs  map[string]*ort.Tensor[float32]
	crop     gocv.Mat // the region cut out, network input size, BGR
	matrix   gocv.Mat // 2x3 map from the crop to the picture
}

// newNetwork loads a network; threads is the number of cores one run may use.
func newNetwork(name string, threads int) (_ *network, err error) {
	if err := device.Start(); err != nil {
		return nil, err
	}
	m, err := models.Load(name)
	if err != nil {
		return nil, err
	}
	in := m.Manifest.Input
	n := &network{manifest: m.Manifest, outputs: map[string]*ort.Tensor[float32]{}}
	n.crop = gocv.NewMatWithSize(in.Height, in.Width, gocv.MatTypeCV8UC3)
	n.matrix = gocv.NewMatWithSize(2, 3, gocv.MatTypeCV64F)
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("loading the network %s: %w", name, err), n.Close())
		}
	}()
	if n.input, err = ort.NewEmptyTensor[float32](ort.NewShape(1, 3, int64(in.Height), int64(in.Width))); err != nil {
		return nil, err
	}
	names, outputs, err := device.Outputs(&n.manifest)
	for i, t := range outputs {
		n.outputs[names[i]] = t
	}
	if err == nil {
		n.session, err = device.Open(m, threads, names, n.input, outputs)
	}
	if err != nil {
		return nil, err
	}
	return n, nil
}

// output returns the values of the output of that name after a run.
func (n *network) output(name string) []float32 { return n.outputs[name].GetData() }

// Close frees the network's memory.
func (n *network) Close() error {
	var errs []error
	if n.session != nil {
		errs = append(errs, n.session.Destroy())
	}
	if n.input != nil {
		errs = append(errs, n.input.Destroy())
	}
	for _, t := range n.outputs {
		errs = append(errs, t.Destroy())
	}
	errs = append(errs, n.crop.Close(), n.matrix.Close())
	return errors.Join(errs...)
}

// warpInverse tells the warp that the matrix leads from the crop to the picture.
const warpInverse = gocv.InterpolationFlags(16)

// run cuts the region out of a picture and runs the network on it.
func (n *network) run(picture gocv.Mat, r Region) error {
	if err := n.cut(picture, r); err != nil {
		return err
	}
	if err := n.session.Run(); err != nil {
		return fmt.Errorf("running the network %s: %w", n.manifest.Name, err)
	}
	return nil
}

// cut makes the region of a picture the network's input.
func (n *network) cut(picture gocv.Mat, r Region) error {
	in := n.manifest.Input
	w, h := in.Width, in.Height
	border := gocv.BorderConstant // black
	if in.Border == "replicate" {
		border = gocv.BorderReplicate
	}
	// Pixel centres lie at half numbers in both pictures.
	x0, y0 := r.toPicture(0.5/float64(w), 0.5/float64(h))
	x1, y1 := r.toPicture(1.5/float64(w), 0.5/float64(h))
	x2, y2 := r.toPicture(0.5/float64(w), 1.5/float64(h))
	for i, v := range [6]float64{x1 - x0, x2 - x0, x0 - 0.5, y1 - y0, y2 - y0, y0 - 0.5} {
		n.matrix.SetDoubleAt(i/3, i%3, v)
	}
	gocv.WarpAffineWithParams(picture, &n.crop, n.matrix, image.Pt(w, h), gocv.InterpolationLinear|warpInverse, border,
		color.RGBA{})
	bgr, err := n.crop.DataPtrUint8()
	if err != nil {
		return fmt.Errorf("cutting out the region: %w", err)
	}
	fillInput(n.input.GetData(), bgr, in.Min, in.Max)
	return nil
}

// fillInput spreads interleaved 8-bit BGR over planes of red, green and blue,
// 0 becoming lo and 255 hi.
func fillInput(dst []float32, bgr []byte, lo, hi float64) {
	var table [256]float32
	for i := range table {
		table[i] = float32(lo + (hi-lo)*float64(i)/255)
	}
	n := len(bgr) / 3
	red, green, blue := dst[:n], dst[n:2*n], dst[2*n:3*n]
	for i := range n {
		p := bgr[3*i : 3*i+3]
		blue[i], green[i], red[i] = table[p[0]], table[p[1]], table[p[2]]
	}
}
