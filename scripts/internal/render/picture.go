package render

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"slices"

	"holdfast/scripts/internal/render/body"
	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// Picture is what a phone's lens, sensor and encoder do.
type Picture struct {
	// BlurPx is the standard deviation of the lens' blur, Noise that of the brightness in levels of 255.
	BlurPx, Noise float64
	// ShutterS is how long a frame is exposed, CRF how strongly x264 compresses.
	ShutterS float64
	CRF      int
}

// Frame is a picture as an encoder takes it: brightness, and colour of every 2 x 2 pixels, BT.709, limited range.
type Frame struct {
	Width, Height int
	Y, Cb, Cr     []byte
}

// painter makes the frames of one scene.
type painter struct {
	scene   *Scene
	ground  *ground
	shadows *shadows
	raster  rasteriser
	pieces  []*body.Bent
	things  []*body.Bent
	layer   layer
	scratch [][4]float32
	kernel  []float32
	tone    [3][toneSteps + 1]float32 // of linear light, for red, green, blue
	left    []float32                 // how much light the athlete leaves on each pixel of the room
	// empty is the room alone, clean the frame before noise, which differs from it inside drawn.
	empty, clean, noisy *Frame
	drawn               box
	noise               []int8
}

const (
	toneSteps = 2048
	noiseSize = 1 << 18
	// Blur by movement: a sample for as many pixels of the fastest joint's way, at most so many.
	blurStepPx, mostBlurSamples = 1.5, 3
)

func newPainter(s *Scene) *painter {
	c := &s.Camera
	n := c.Width * c.Height
	p := &painter{
		scene: s, shadows: newShadows(&s.Light), pieces: s.Body.Bendable(), kernel: bell(s.Picture.BlurPx),
		raster: rasteriser{view: c.view(), width: c.Width, height: c.Height},
		layer:  layer{pixels: make([][4]float32, n)}, scratch: make([][4]float32, n), left: make([]float32, n),
		noise: make([]int8, noiseSize), clean: newFrame(c.Width, c.Height), noisy: newFrame(c.Width, c.Height),
	}
	for _, t := range s.Performer.Motion.Things {
		p.things = append(p.things, body.Solid(t.SizeM, t.Disc, t.Grey))
	}
	for i := range p.left {
		p.left[i] = 1
	}
	for channel, gain := range []float64{1 + s.Light.Warm, 1, 1 - s.Light.Warm} {
		for i := range p.tone[channel] {
			v := math.Min(1, s.Light.Exposure*gain*float64(i)/toneSteps*toneCeiling)
			p.tone[channel][i] = float32(255 * math.Pow(v, 1/body.PictureGamma))
		}
	}
	p.ground = s.Room.seen(c, &s.Light)
	p.ground.soften(c.Width, c.Height, p.kernel)
	p.paint(p.clean, box{0, 0, c.Width, c.Height})
	p.empty = p.clean.copied()
	random := rand.New(rand.NewPCG(s.Seed, noiseStream))
	for i := range p.noise {
		p.noise[i] = int8(space.Clamp(math.Round(random.NormFloat64()*s.Picture.Noise), -100, 100))
	}
	return p
}

// toneCeiling is the brightest linear light that the tone's table knows.
const toneCeiling = 1.6

func newFrame(width, height int) *Frame {
	quarter := (width / 2) * (height / 2)
	return &Frame{width, height, make([]byte, width*height), make([]byte, quarter), make([]byte, quarter)}
}

func (f *Frame) copied() *Frame {
	return &Frame{f.Width, f.Height, bytes.Clone(f.Y), bytes.Clone(f.Cb), bytes.Clone(f.Cr)}
}

// take copies a part of another frame; its bounds are even.
func (f *Frame) take(from *Frame, in box) {
	for y := in.y0; y < in.y1; y++ {
		a, b := y*f.Width+in.x0, y*f.Width+in.x1
		copy(f.Y[a:b], from.Y[a:b])
		if y%2 == 0 {
			a, b = y/2*(f.Width/2)+in.x0/2, y/2*(f.Width/2)+in.x1/2
			copy(f.Cb[a:b], from.Cb[a:b])
			copy(f.Cr[a:b], from.Cr[a:b])
		}
	}
}

// bell returns half of a normal curve's weights, middle first.
func bell(sd float64) []float32 {
	if sd < 0.2 {
		return []float32{1}
	}
	half := int(math.Ceil(2 * sd))
	out := make([]float32, half+1)
	var whole float64
	for i := range out {
		w := math.Exp(-float64(i*i) / 2 / sd / sd)
		out[i] = float32(w)
		whole += w
		if i > 0 {
			whole += w
		}
	}
	for i := range out {
		out[i] /= float32(whole)
	}
	return out
}

// at returns the frame with a number whose exposure is centred at a time. The frame is good until the next one.
func (p *painter) at(number int, timeS float64) *Frame {
	c := &p.scene.Camera
	wipe(p.layer.pixels, c.Width, p.layer.in)
	p.layer.in = box{}
	samples := p.samples(timeS)
	for k := range samples {
		t := timeS
		if samples > 1 {
			t += ((float64(k)+0.5)/float64(samples) - 0.5) * p.scene.Picture.ShutterS
		}
		now := p.scene.Performer.At(t)
		body.Bend(p.pieces, now.Figure)
		for i, thing := range p.scene.Performer.Motion.Things {
			p.things[i].Put(thing.At(&now))
		}
		all := slices.Concat(p.pieces, p.things)
		if k == 0 {
			p.shadows.cast(all)
			p.shadows.illuminate(all, p.raster.view.at)
		}
		p.layer.in = p.layer.in.with(p.raster.draw(all, &p.layer, 1/float32(samples)))
	}
	p.layer.in = p.layer.in.grown(len(p.kernel)-1, c.Width, c.Height)
	soften(p.layer.pixels, p.scratch, c.Width, p.layer.in, p.kernel)

	p.clean.take(p.empty, p.drawn)
	p.drawn = p.layer.in.with(p.dim()).even(c.Width, c.Height)
	p.paint(p.clean, p.drawn)
	p.noisy.take(p.clean, box{0, 0, c.Width, c.Height})
	p.addNoise(number)
	return p.noisy
}

// samples returns how many instants of the exposure are drawn: more the faster the joints move in the picture.
func (p *painter) samples(timeS float64) int {
	half := p.scene.Picture.ShutterS / 2
	a, b := p.scene.Performer.At(timeS-half).Figure, p.scene.Performer.At(timeS+half).Figure
	var fastest float64
	for _, side := range motion.BothSides {
		u, v := &a.Sides[side], &b.Sides[side]
		for _, joint := range [][2]space.Vec{
			{u.Knee, v.Knee}, {u.Hip, v.Hip}, {u.Shoulder, v.Shoulder}, {u.Wrist, v.Wrist}, {u.Ankle, v.Ankle},
		} {
			x0, y0, _ := p.raster.view.project(joint[0])
			x1, y1, _ := p.raster.view.project(joint[1])
			fastest = math.Max(fastest, math.Hypot(x1-x0, y1-y0))
		}
	}
	return min(1+int(fastest/blurStepPx), mostBlurSamples)
}

// dim finds how much light the athlete leaves on the floor and returns where that is less than all.
func (p *painter) dim() box {
	var in box
	width := p.scene.Camera.Width
	floor := &p.shadows.floor
	for i := range p.ground.floor {
		f := &p.ground.floor[i]
		c := floor[f.cell : f.cell+shadowCells+2]
		a, b, d, e := c[0], c[1], c[shadowCells], c[shadowCells+1]
		if a+b+d+e >= 4-1e-3 {
			p.left[f.pixel] = 1
			continue
		}
		p.left[f.pixel] = (a*(1-f.z)+b*f.z)*(1-f.x) + (d*(1-f.z)+e*f.z)*f.x
		x, y := int(f.pixel)%width, int(f.pixel)/width
		in = in.with(box{x, y, x + 1, y + 1})
	}
	return in
}

// paint makes the part of a frame from room, shadow and athlete; the part's bounds are even.
func (p *painter) paint(f *Frame, in box) {
	for y := in.y0; y < in.y1; y += 2 {
		for x := in.x0; x < in.x1; x += 2 {
			var r, g, b float32
			for k := range 4 {
				n := (y+k/2)*f.Width + x + k%2
				room, left, over := &p.ground.colours[n], p.left[n], &p.layer.pixels[n]
				left *= 1 - over[3]
				red := p.tone[0][toned(room[0]*left+over[0])]
				green := p.tone[1][toned(room[1]*left+over[1])]
				blue := p.tone[2][toned(room[2]*left+over[2])]
				// BT.709, limited range.
				f.Y[n] = byte(16.5 + (0.2126*red+0.7152*green+0.0722*blue)*(219.0/255))
				r, g, b = r+red/4, g+green/4, b+blue/4
			}
			bright := 0.2126*r + 0.7152*g + 0.0722*b
			n := y/2*(f.Width/2) + x/2
			f.Cb[n] = byte(128.5 + (b-bright)/1.8556*(224.0/255))
			f.Cr[n] = byte(128.5 + (r-bright)/1.5748*(224.0/255))
		}
	}
}

func toned(v float32) int { return min(max(int(v*(toneSteps/toneCeiling)), 0), toneSteps) }

// addNoise makes the brightness of a frame noisy, by the frame's number.
func (p *painter) addNoise(number int) {
	if p.scene.Picture.Noise <= 0 {
		return
	}
	at := int(body.Chance(number, 3, uint32(p.scene.Seed)) * noiseSize)
	y := p.noisy.Y
	for len(y) > 0 {
		n := min(len(y), noiseSize-at)
		for i, by := range p.noise[at : at+n] {
			y[i] = byte(min(max(int(y[i])+int(by), 16), 235))
		}
		// A row of the picture must not fall on the same noise again and again.
		y, at = y[n:], (at*7+13)%1000
	}
}

// soften blurs a part of a picture with half of a kernel.
func soften(pixels, scratch [][4]float32, width int, in box, kernel []float32) {
	if len(kernel) < 2 {
		return
	}
	for y := in.y0; y < in.y1; y++ {
		for x := in.x0; x < in.x1; x++ {
			scratch[y*width+x] = spread(pixels, y*width+x, 1, x-in.x0, in.x1-1-x, kernel)
		}
	}
	for y := in.y0; y < in.y1; y++ {
		for x := in.x0; x < in.x1; x++ {
			pixels[y*width+x] = spread(scratch, y*width+x, width, y-in.y0, in.y1-1-y, kernel)
		}
	}
}

// spread is the weighted mean about pixel n along a line that has before and after more pixels; what lies beyond the
// ends is like the last one.
func spread(of [][4]float32, n, step, before, after int, kernel []float32) [4]float32 {
	c := of[n]
	for i := range c {
		c[i] *= kernel[0]
	}
	for k := 1; k < len(kernel); k++ {
		a, b, w := &of[n-min(k, before)*step], &of[n+min(k, after)*step], kernel[k]
		for i := range c {
			c[i] += w * (a[i] + b[i])
		}
	}
	return c
}

// soften blurs the room.
func (g *ground) soften(width, height int, kernel []float32) {
	pixels := make([][4]float32, len(g.colours))
	for i, c := range g.colours {
		pixels[i] = [4]float32{c[0], c[1], c[2]}
	}
	soften(pixels, make([][4]float32, len(pixels)), width, box{0, 0, width, height}, kernel)
	for i, c := range pixels {
		g.colours[i] = body.Colour{c[0], c[1], c[2]}
	}
}

func wipe(pixels [][4]float32, width int, in box) {
	for y := in.y0; y < in.y1; y++ {
		clear(pixels[y*width+in.x0 : y*width+in.x1])
	}
}

// grown returns the box with a margin, inside the picture.
func (b box) grown(by, width, height int) box {
	if b.empty() {
		return b
	}
	return box{max(0, b.x0-by), max(0, b.y0-by), min(width, b.x1+by), min(height, b.y1+by)}
}

// even returns the box with even bounds; width and height of the picture are even.
func (b box) even(width, height int) box {
	if b.empty() {
		return b
	}
	return box{b.x0 &^ 1, b.y0 &^ 1, min(width, (b.x1+1)&^1), min(height, (b.y1+1)&^1)}
}

// Image returns the frame in full colour.
func (f *Frame) Image() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, f.Width, f.Height))
	for y := range f.Height {
		for x := range f.Width {
			n := y/2*(f.Width/2) + x/2
			bright := (float64(f.Y[y*f.Width+x]) - 16) * 255 / 219
			cb, cr := (float64(f.Cb[n])-128)*255/224, (float64(f.Cr[n])-128)*255/224
			level := func(v float64) uint8 { return uint8(space.Clamp(math.Round(v), 0, 255)) }
			red, green, blue := bright+1.5748*cr, bright-0.1873*cb-0.4681*cr, bright+1.8556*cb
			img.SetRGBA(x, y, color.RGBA{level(red), level(green), level(blue), 255})
		}
	}
	return img
}
