package body

import (
	"bufio"
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"image/png"
	"math"
	"strconv"
	"strings"
	"sync"

	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

//go:embed assets
var files embed.FS

// library is all that bodies are made of. Lengths are those of the files, decimetres.
type library struct {
	base     *mesh
	bones    map[string][]int // the vertices whose mean is the head of a bone
	weights  [][]influence    // of the base mesh
	targets  map[string][]offset
	garments map[string]*garment
	textures map[string]*texture
}

type mesh struct {
	vertices []space.Vec
	uvs      [][2]float32
	faces    map[string][]triangle // by group
}

// triangle holds the numbers of its vertices and of their places on the texture.
type triangle struct{ Vertex, Uv [3]int32 }

type offset struct {
	vertex int
	by     space.Vec
}

// influence is how much a segment moves a vertex.
type influence struct {
	segment motion.Segment
	weight  float64
}

// garment is worn on the base mesh: each of its vertices hangs on three of that one's.
type garment struct {
	mesh    *mesh
	on      [][3]int
	parts   []space.Vec
	offsets []space.Vec
	scale   [3]struct {
		from, to int
		length   float64
	}
	weights [][]influence // nil: those of the base mesh
	hides   map[int]bool  // vertices of the base mesh that lie under it
}

const (
	male, female                     = "caucasian-male-young", "asian-female-young"
	maleMuscle                       = "universal-male-young-maxmuscle-averageweight"
	femaleMuscle                     = "universal-female-young-maxmuscle-averageweight"
	stout                            = "universal-female-young-averagemuscle-maxweight"
	SuitA, SuitB, shoes, eyes, brows = "male_casualsuit04", "male_casualsuit06", "shoes02", "low-poly", "eyebrow001"
	ShortHair, CloseHair             = "short02", "short04"
	maleSkin, femaleSkin             = "young_lightskinned_male_diffuse", "young_lightskinned_female_diffuse3"
	textureSuffix                    = "_diffuse"
)

// loaded reads the files once; what it returns is never changed.
var loaded = sync.OnceValues(func() (*library, error) {
	l := &library{targets: map[string][]offset{}, garments: map[string]*garment{}, textures: map[string]*texture{}}
	var err error
	if l.base, err = readMesh("base"); err != nil {
		return nil, err
	}
	if l.bones, err = readBones("default.mhskel", len(l.base.vertices)); err != nil {
		return nil, err
	}
	if l.weights, err = readWeights("default_weights.mhw", len(l.base.vertices)); err != nil {
		return nil, err
	}
	for _, name := range []string{male, female, maleMuscle, femaleMuscle, stout} {
		if l.targets[name], err = readTarget(name, len(l.base.vertices)); err != nil {
			return nil, err
		}
	}
	for _, name := range []string{SuitA, SuitB, shoes, eyes, brows, ShortHair, CloseHair} {
		if l.garments[name], err = readGarment(name, len(l.base.vertices)); err != nil {
			return nil, err
		}
	}
	if l.garments[shoes].weights, err = readWeights(shoes+".mhw", len(l.garments[shoes].mesh.vertices)); err != nil {
		return nil, err
	}
	for _, name := range []string{SuitA + textureSuffix, SuitB + textureSuffix, shoes + textureSuffix, brows,
		ShortHair + textureSuffix, CloseHair + textureSuffix, maleSkin, femaleSkin} {
		if l.textures[name], err = readTexture(name); err != nil {
			return nil, err
		}
	}
	return l, nil
})

// eachLine hands the fields of every line that is no comment to line.
func eachLine(name string, line func(fields []string) error) error {
	data, err := files.ReadFile("assets/" + name)
	if err != nil {
		return fmt.Errorf("reading a mesh's file: %w", err)
	}
	s := bufio.NewScanner(bytes.NewReader(data))
	for n := 1; s.Scan(); n++ {
		fields := strings.Fields(s.Text())
		if len(fields) == 0 || fields[0][0] == '#' {
			continue
		}
		if err := line(fields); err != nil {
			return fmt.Errorf("reading %s, line %d: %w", name, n, err)
		}
	}
	if err := s.Err(); err != nil {
		return fmt.Errorf("reading %s: %w", name, err)
	}
	return nil
}

func numbers(fields []string) ([]float64, error) {
	out := make([]float64, len(fields))
	for i, f := range fields {
		var err error
		if out[i], err = strconv.ParseFloat(f, 64); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func vecOf(fields []string) (space.Vec, error) {
	if len(fields) < 3 {
		return space.Vec{}, fmt.Errorf("%d of 3 coordinates", len(fields))
	}
	v, err := numbers(fields[:3])
	if err != nil {
		return space.Vec{}, err
	}
	return space.Vec{X: v[0], Y: v[1], Z: v[2]}, nil
}

// indexOf reads a vertex's number below n.
func indexOf(field string, n int) (int, error) {
	i, err := strconv.Atoi(field)
	if err != nil {
		return 0, err
	}
	if i < 0 || i >= n {
		return 0, fmt.Errorf("there is no vertex %d", i)
	}
	return i, nil
}

func readMesh(name string) (*mesh, error) {
	m := &mesh{faces: map[string][]triangle{}}
	group := "body"
	err := eachLine(name+".obj", func(f []string) error {
		switch {
		case f[0] == "g" && len(f) > 1:
			group = f[1]
		case f[0] == "v":
			v, err := vecOf(f[1:])
			m.vertices = append(m.vertices, v)
			return err
		case f[0] == "vt" && len(f) > 2:
			v, err := numbers(f[1:3])
			if err != nil {
				return err
			}
			m.uvs = append(m.uvs, [2]float32{float32(v[0]), float32(v[1])})
		case f[0] == "f":
			var corners [][2]int32
			for _, corner := range f[1:] {
				v, uv, _ := strings.Cut(corner, "/")
				uv, _, _ = strings.Cut(uv, "/")
				vi, err := strconv.Atoi(v)
				if err != nil {
					return err
				}
				ti := 1
				if uv != "" {
					if ti, err = strconv.Atoi(uv); err != nil {
						return err
					}
				}
				if vi < 1 || vi > len(m.vertices) || ti < 1 || ti > max(1, len(m.uvs)) {
					return fmt.Errorf("a face has a corner %s that is not there", corner)
				}
				corners = append(corners, [2]int32{int32(vi - 1), int32(ti - 1)})
			}
			for k := 2; k < len(corners); k++ {
				a, b, c := corners[0], corners[k-1], corners[k]
				face := triangle{Vertex: [3]int32{a[0], b[0], c[0]}, Uv: [3]int32{a[1], b[1], c[1]}}
				m.faces[group] = append(m.faces[group], face)
			}
		}
		return nil
	})
	return m, err
}

func readTarget(name string, vertices int) ([]offset, error) {
	var out []offset
	err := eachLine(name+".target", func(f []string) error {
		i, err := indexOf(f[0], vertices)
		if err != nil {
			return err
		}
		by, err := vecOf(f[1:])
		out = append(out, offset{i, by})
		return err
	})
	return out, err
}

func readBones(name string, vertices int) (map[string][]int, error) {
	data, err := files.ReadFile("assets/" + name)
	if err != nil {
		return nil, fmt.Errorf("reading a skeleton: %w", err)
	}
	var file struct {
		Bones  map[string]struct{ Head string }
		Joints map[string][]int
	}
	if err := json.Unmarshal(data, &file); err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	heads := map[string][]int{}
	for bone, b := range file.Bones {
		for _, v := range file.Joints[b.Head] {
			if v < 0 || v >= vertices {
				return nil, fmt.Errorf("reading %s: bone %s hangs on a vertex %d that is not there", name, bone, v)
			}
		}
		heads[bone] = file.Joints[b.Head]
	}
	return heads, nil
}

func readWeights(name string, vertices int) ([][]influence, error) {
	data, err := files.ReadFile("assets/" + name)
	if err != nil {
		return nil, fmt.Errorf("reading weights: %w", err)
	}
	var file struct{ Weights map[string][][2]float64 }
	if err := json.Unmarshal(data, &file); err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	var sums = make([][motion.SegmentCount]float64, vertices)
	for bone, list := range file.Weights {
		g := segmentOf(bone)
		for _, w := range list {
			if v := int(w[0]); v >= 0 && v < vertices {
				// Rounded, so that the sum is the same in whatever order a map gives its bones.
				sums[v][g] += math.Round(w[1]*1e6) / 1e6
			}
		}
	}
	out := make([][]influence, vertices)
	for v := range sums {
		out[v] = influences(&sums[v])
	}
	return out, nil
}

// influences returns the four largest weights of a vertex, scaled to sum to 1; the pelvis carries what nothing else
// does.
func influences(weights *[motion.SegmentCount]float64) []influence {
	var out []influence
	for len(out) < 4 {
		best := -1
		for g, w := range weights {
			taken := false
			for _, o := range out {
				taken = taken || int(o.segment) == g
			}
			if !taken && w > 1e-3 && (best < 0 || w > weights[best]) {
				best = g
			}
		}
		if best < 0 {
			break
		}
		out = append(out, influence{motion.Segment(best), weights[best]})
	}
	if len(out) == 0 {
		return []influence{{motion.SegPelvis, 1}}
	}
	var whole float64
	for _, o := range out {
		whole += o.weight
	}
	for i := range out {
		out[i].weight = math.Round(out[i].weight/whole*1e6) / 1e6
	}
	return out
}

// segmentOf returns the segment that a bone belongs to.
func segmentOf(bone string) motion.Segment {
	side := motion.Left
	if strings.HasSuffix(bone, ".R") {
		side = motion.Right
	}
	for _, of := range []struct {
		prefix  string
		segment motion.Segment
	}{
		{"root", motion.SegPelvis}, {"pelvis", motion.SegPelvis}, {"spine05", motion.SegPelvis},
		{"spine04", motion.SegLumbar}, {"spine03", motion.SegLumbar},
		{"spine", motion.SegThorax}, {"breast", motion.SegThorax}, {"clavicle", motion.SegThorax},
		{"shoulder", motion.SegThorax},
		{"neck01", motion.SegNeckLow}, {"neck02", motion.SegNeckHigh},
		{"upperleg", motion.SegThigh.On(side)}, {"lowerleg", motion.SegShank.On(side)},
		{"foot", motion.SegFoot.On(side)}, {"toe", motion.SegToes.On(side)}, {"upperarm", motion.SegUpperArm.On(side)},
		{"lowerarm", motion.SegForearm.On(side)},
		{"wrist", motion.SegForearm.On(side)}, {"finger", motion.SegForearm.On(side)},
		{"metacarpal", motion.SegForearm.On(side)},
	} {
		if strings.HasPrefix(bone, of.prefix) {
			return of.segment
		}
	}
	return motion.SegHead
}

func readGarment(name string, baseVertices int) (*garment, error) {
	g := &garment{hides: map[int]bool{}}
	var err error
	if g.mesh, err = readMesh(name); err != nil {
		return nil, err
	}
	list := ""
	err = eachLine(name+".mhclo", func(f []string) error {
		switch f[0] {
		case "x_scale", "y_scale", "z_scale":
			if len(f) < 4 {
				return fmt.Errorf("%s has %d of 3 values", f[0], len(f)-1)
			}
			s := &g.scale[f[0][0]-'x']
			var err error
			if s.from, err = indexOf(f[1], baseVertices); err != nil {
				return err
			}
			if s.to, err = indexOf(f[2], baseVertices); err != nil {
				return err
			}
			s.length, err = strconv.ParseFloat(f[3], 64)
			return err
		case "verts", "delete_verts":
			list = f[0]
			return nil
		}
		if f[0][0] < '0' || f[0][0] > '9' {
			return nil
		}
		switch list {
		case "verts":
			return g.hang(f, baseVertices)
		case "delete_verts":
			return g.hide(f, baseVertices)
		}
		return nil
	})
	if err == nil && len(g.on) != len(g.mesh.vertices) {
		err = fmt.Errorf("reading %s.mhclo: it hangs up %d of %d vertices", name, len(g.on), len(g.mesh.vertices))
	}
	return g, err
}

// hang reads the line that says where one vertex hangs.
func (g *garment) hang(f []string, baseVertices int) error {
	first, err := indexOf(f[0], baseVertices)
	if err != nil {
		return err
	}
	on, parts, by := [3]int{first, first, first}, space.Vec{X: 1, Y: 0, Z: 0}, space.Vec{}
	if len(f) >= 6 {
		for k := 1; k < 3; k++ {
			if on[k], err = indexOf(f[k], baseVertices); err != nil {
				return err
			}
		}
		if parts, err = vecOf(f[3:]); err != nil {
			return err
		}
	}
	if len(f) >= 9 {
		if by, err = vecOf(f[6:]); err != nil {
			return err
		}
	}
	g.on, g.parts, g.offsets = append(g.on, on), append(g.parts, parts), append(g.offsets, by)
	return nil
}

// hide reads a line of vertices, single ones and ranges "a - b".
func (g *garment) hide(f []string, baseVertices int) error {
	for k := 0; k < len(f); k++ {
		from, err := indexOf(f[k], baseVertices)
		if err != nil {
			return err
		}
		to := from
		if k+2 < len(f) && f[k+1] == "-" {
			if to, err = indexOf(f[k+2], baseVertices); err != nil {
				return err
			}
			k += 2
		}
		for v := from; v <= to; v++ {
			g.hides[v] = true
		}
	}
	return nil
}

// worn returns the garment's vertices on a body.
func (g *garment) worn(body []space.Vec) []space.Vec {
	var scale [3]float64
	for i, s := range g.scale {
		scale[i] = 1
		if d := body[s.from].Sub(body[s.to]); s.length != 0 {
			scale[i] = math.Abs([3]float64{d.X, d.Y, d.Z}[i]) / s.length
		}
	}
	out := make([]space.Vec, len(g.on))
	for i, on := range g.on {
		p, by := g.parts[i], g.offsets[i]
		out[i] = body[on[0]].Scale(p.X).Add(body[on[1]].Scale(p.Y)).Add(body[on[2]].Scale(p.Z)).
			Add(space.Vec{X: by.X * scale[0], Y: by.Y * scale[1], Z: by.Z * scale[2]})
	}
	return out
}

// influences returns what moves the garment's vertices.
func (g *garment) influences(base [][]influence) [][]influence {
	if g.weights != nil {
		return g.weights
	}
	out := make([][]influence, len(g.on))
	for i, on := range g.on {
		var sums [motion.SegmentCount]float64
		for k, part := range []float64{g.parts[i].X, g.parts[i].Y, g.parts[i].Z} {
			for _, in := range base[on[k]] {
				sums[in.segment] += in.weight * math.Max(0.02, part)
			}
		}
		out[i] = influences(&sums)
	}
	return out
}

// texture is a picture in linear light, red green blue and what is solid of it, from the bottom row up.
type texture struct {
	Width, Height int
	Pixels        [][4]float32
}

func readTexture(name string) (*texture, error) {
	f, err := files.Open("assets/" + name + ".png")
	if err != nil {
		return nil, fmt.Errorf("reading a texture: %w", err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("reading the texture %s: %w", name, err)
	}
	// An athlete is a few hundred pixels high: a quarter of the size shows all that can be seen and stays in the cache.
	const by = 4
	b := img.Bounds()
	t := &texture{Width: b.Dx() / by, Height: b.Dy() / by}
	if t.Width == 0 || t.Height == 0 {
		return nil, fmt.Errorf("reading the texture %s: it is %d x %d", name, b.Dx(), b.Dy())
	}
	for y := range t.Height {
		for x := range t.Width {
			var sum [4]float64
			for k := range by * by {
				r, g, bl, a := img.At(b.Min.X+by*x+k%by, b.Max.Y-1-by*y-k/by).RGBA()
				if a == 0 {
					continue
				}
				solid := float64(a) / 0xffff
				for c, v := range [3]uint32{r, g, bl} {
					sum[c] += math.Pow(float64(v)/0xffff/solid, PictureGamma) * solid
				}
				sum[3] += solid
			}
			var px [4]float32
			for c := range 3 {
				if sum[3] > 0 {
					px[c] = float32(sum[c] / sum[3])
				}
			}
			px[3] = float32(sum[3] / by / by)
			t.Pixels = append(t.Pixels, px)
		}
	}
	return t, nil
}

const PictureGamma = 2.2

// plain returns a texture of one colour.
func plain(c Colour) *texture {
	return &texture{1, 1, [][4]float32{{c[0], c[1], c[2], 1}}}
}

// dyed returns the texture in another colour.
func (t *texture) dyed(dye Dye) *texture {
	c, keep := dye.Colour, dye.Keep
	var mean float32
	for _, p := range t.Pixels {
		mean += (p[0] + p[1] + p[2]) / 3 / float32(len(t.Pixels))
	}
	out := &texture{t.Width, t.Height, make([][4]float32, len(t.Pixels))}
	for i, p := range t.Pixels {
		grey := (p[0] + p[1] + p[2]) / 3 / max(mean, 1e-3)
		grey = 1 + 0.7*(grey-1)
		for k := range 3 {
			out.Pixels[i][k] = c[k] * max(0, keep*p[k]+(1-keep)*grey)
		}
		out.Pixels[i][3] = p[3]
	}
	return out
}

// twoTone returns the texture in two colours, one below a height of it and one above.
func (t *texture) twoTone(low, high Dye, at float64) *texture {
	out, above := t.dyed(low), t.dyed(high)
	from := int(at*float64(t.Height)) * t.Width
	copy(out.Pixels[from:], above.Pixels[from:])
	return out
}

// Weave is the pattern of a shirt.
type Weave struct {
	Ground, Stripe Colour
	// Stripes is how many stripes a texture's height has, none when it is 0; Width their part of the distance.
	Stripes, Width float64
}

// cloth returns a texture of that weave.
func (w Weave) cloth() *texture {
	const side = 128
	t := &texture{side, side, make([][4]float32, side*side)}
	for n := range t.Pixels {
		x, y := float64(n%side)/side, float64(n/side)/side
		c := w.Ground
		if w.Stripes > 0 && Fraction(y*w.Stripes) < w.Width {
			c = w.Stripe
		}
		c = Shade(c, 0.9+0.12*Rough(9*x, 9*y, 3)+0.08*Chance(n%side, n/side, 5))
		t.Pixels[n] = [4]float32{c[0], c[1], c[2], 1}
	}
	return t
}

// Colour is linear light, 0 to 1.
type Colour [3]float32
