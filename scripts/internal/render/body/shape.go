package body

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"holdfast/scripts/internal/render/motion"
	"holdfast/scripts/internal/render/space"
)

// Build is the shape of a body.
type Build struct {
	Woman bool
	// HeightM is without shoes.
	HeightM float64
	// Typical, Muscle and Fat are how much of each shape is in it: 0 is the mean of all.
	Typical, Muscle, Fat float64
	// Shank, Thigh, Trunk and Foot are lengths against the mean body's, which are then scaled together to HeightM.
	Shank, Thigh, Trunk, Foot float64
}

// Dye is the colour of a cloth: Keep 1 tints its own hues, 0 keeps only its lights and darks.
type Dye struct {
	Colour Colour
	Keep   float32
}

// Clothes are what the athlete wears, and the colours of skin and hair.
type Clothes struct {
	Suit, Hair string
	Shirt      Weave
	// Shoes are the colour of their front, Heels that of the rest.
	Trousers, Shoes, Heels, Sock, Skin, HairColour Dye
	// ShortsThigh is where shorts end, as a part of the thigh above the knee; trousers when it is 0.
	ShortsThigh float64
	// LooseM is how far the trousers stand off the leg.
	LooseM float64
}

// Body is a dressed body at rest.
type Body struct {
	Skeleton motion.Skeleton
	HeightM  float64
	pieces   []*piece
}

// piece is a skin or a cloth.
type piece struct {
	Name       string
	rest       []space.Vec
	normals    []space.Vec
	influences [][]influence
	Triangles  []triangle
	Uvs        [][2]float32
	Texture    *texture
	Hair       bool // seen from both sides and through
}

const (
	// markUpM is how high above the sole the marks on heel and toe are, heelInM and toeInM how far inside its ends.
	markUpM, heelInM, toeInM = 0.03, 0.012, 0.015
	// ballUpM is how high above the sole the foot turns.
	ballUpM = 0.025
	// tuckM is how far trousers are drawn in under the shirt.
	tuckM = 0.004
	// shirtOffM is how far a shirt is held off the skin, which would show through where it is coarse.
	shirtOffM = 0.004
	// underHemM is how far above a hem the leg is still drawn.
	underHemM = 0.035
	// shoeLowM is the height below which a shoe is its sole.
	shoeLowM = 0.045
)

// Dress returns a body of a shape in clothes.
func Dress(b Build, c Clothes) (*Body, error) {
	l, err := loaded()
	if err != nil {
		return nil, err
	}
	suit, hair, brow := l.garments[c.Suit], l.garments[c.Hair], l.garments[brows]
	if suit == nil || hair == nil || b.HeightM <= 0 {
		return nil, fmt.Errorf("no body %.2f m high with the clothes %q and the hair %q", b.HeightM, c.Suit, c.Hair)
	}
	naked := l.shaped(b)
	worn := map[string][]space.Vec{}
	for _, name := range []string{c.Suit, c.Hair, shoes, eyes, brows} {
		worn[name] = l.garments[name].worn(naked)
	}
	l.proportion(b, naked, worn)

	body := &Body{HeightM: b.HeightM}
	if err := body.bones(l, naked, worn[shoes]); err != nil {
		return nil, err
	}
	hidden := map[int]bool{}
	hide := func(g *garment, from float64) {
		for v := range g.hides {
			if naked[v].Y >= from {
				hidden[v] = true
			}
		}
	}
	knee, hip := body.Skeleton.Sides[motion.Left].Knee.Y, body.Skeleton.Sides[motion.Left].Hip.Y
	hem := 0.0
	if c.ShortsThigh > 0 {
		hem = space.Mix(knee, hip, c.ShortsThigh)
	}
	under := 0.0
	if hem > 0 {
		under = hem + underHemM
	}
	hide(suit, under)
	hide(l.garments[shoes], 0)

	shoe := l.textures[shoes+textureSuffix]
	cloth := func(name string, g *garment, of []triangle, at []space.Vec, t *texture) *piece {
		return compact(name, of, at, g.mesh.uvs, g.influences(l.weights), t)
	}
	tops, bottoms := apart(suit.mesh, worn[c.Suit], space.Mix(hip, naked[l.bones["neck01"][0]].Y, 0.6))
	if hem > 0 {
		bottoms = above(bottoms, worn[c.Suit], hem)
	}
	trousers := cloth("trousers", suit, bottoms, worn[c.Suit], l.textures[c.Suit+textureSuffix].dyed(c.Trousers))
	shirt := cloth("shirt", suit, tops, worn[c.Suit], c.Shirt.cloth())
	for i, v := range shirt.rest {
		shirt.rest[i] = v.Add(shirt.normals[i].Scale(shirtOffM))
	}
	waist := hip - 0.06
	for i, v := range trousers.rest { // wide at the legs, tucked under the shirt above
		loose := c.LooseM - (c.LooseM+tuckM)*motion.MinimumJerk((v.Y-waist)/0.1)
		trousers.rest[i] = v.Add(trousers.normals[i].Scale(loose))
	}
	shoesOn := worn[shoes]
	socks, soles := apart(l.garments[shoes].mesh, shoesOn, 0.13)
	skin := l.textures[maleSkin]
	if b.Woman {
		skin = l.textures[femaleSkin]
	}
	var open []triangle
	for _, t := range l.base.faces["body"] {
		if !hidden[int(t.Vertex[0])] || !hidden[int(t.Vertex[1])] || !hidden[int(t.Vertex[2])] {
			open = append(open, t)
		}
	}
	body.pieces = []*piece{
		compact("skin", open, naked, l.base.uvs, l.weights, skin.dyed(c.Skin)),
		shirt, trousers,
		cloth("shoes", l.garments[shoes], soles, shoesOn, shoe.twoTone(c.Shoes, c.Heels, 0.62)),
		cloth("socks", l.garments[shoes], socks, shoesOn, shoe.dyed(c.Sock)),
		cloth("eyes", l.garments[eyes], allFaces(l.garments[eyes].mesh), worn[eyes], plain(Colour{0.2, 0.18, 0.17})),
		cloth("hair", hair, allFaces(hair.mesh), worn[c.Hair], l.textures[c.Hair+textureSuffix].dyed(c.HairColour)),
		cloth("brows", brow, allFaces(brow.mesh), worn[brows], l.textures[brows].dyed(c.HairColour)),
	}
	for _, p := range body.pieces {
		switch p.Name {
		case "hair", "brows":
			p.Hair = true
			fallthrough
		case "eyes":
			for i := range p.influences {
				p.influences[i] = []influence{{motion.SegHead, 1}}
			}
		}
	}
	return body, nil
}

// shaped returns the base mesh in a shape, decimetres.
func (l *library) shaped(b Build) []space.Vec {
	v := append([]space.Vec(nil), l.base.vertices...)
	add := func(target string, part float64) {
		for _, o := range l.targets[target] {
			v[o.vertex] = v[o.vertex].Add(o.by.Scale(part))
		}
	}
	typical, muscle := male, maleMuscle
	if b.Woman {
		typical, muscle = female, femaleMuscle
	}
	add(typical, b.Typical)
	add(muscle, b.Muscle)
	add(stout, b.Fat)
	return v
}

// mean returns the middle of a bone's head.
func (l *library) mean(bone string, v []space.Vec) space.Vec {
	var sum space.Vec
	for _, i := range l.bones[bone] {
		sum = sum.Add(v[i])
	}
	return sum.Scale(1 / float64(len(l.bones[bone])))
}

// proportion stretches body and clothes to the lengths of a build, metres, with the soles at 0.
func (l *library) proportion(b Build, naked []space.Vec, worn map[string][]space.Vec) {
	ankle, knee, hip := l.mean("foot.L", naked), l.mean("lowerleg01.L", naked), l.mean("upperleg01.L", naked)
	stretch := func(y float64) float64 {
		up := math.Min(y, ankle.Y+0.6)
		for _, part := range []struct{ from, to, by float64 }{
			{ankle.Y + 0.6, knee.Y, b.Shank}, {knee.Y, hip.Y, b.Thigh}, {hip.Y, math.Inf(1), b.Trunk},
		} {
			if y > part.from {
				up += (math.Min(y, part.to) - part.from) * part.by
			}
		}
		return up
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, t := range l.base.faces["body"] {
		for _, v := range t.Vertex {
			low, high = math.Min(low, stretch(naked[v].Y)), math.Max(high, stretch(naked[v].Y))
		}
	}
	scale := b.HeightM / (high - low)
	ground := math.Inf(1)
	for _, v := range worn[shoes] {
		ground = math.Min(ground, stretch(v.Y))
	}
	move := func(vs []space.Vec) {
		for i, v := range vs {
			inFoot := 1 - motion.MinimumJerk((v.Y-ankle.Y+0.2)/1.2)
			v.Z = ankle.Z + (v.Z-ankle.Z)*space.Mix(1, b.Foot, inFoot)
			vs[i] = space.Vec{X: v.X * scale, Y: (stretch(v.Y) - ground) * scale, Z: v.Z * scale}
		}
	}
	move(naked)
	for _, vs := range worn {
		move(vs)
	}
}

// bones finds the joints, the same on both sides, and the marks on the shoes.
func (b *Body) bones(l *library, naked, shoe []space.Vec) error {
	s := &b.Skeleton
	mirrored := func(bone string) [2]space.Vec {
		left, right := l.mean(bone+".L", naked), l.mean(bone+".R", naked)
		m := space.Vec{X: (left.X - right.X) / 2, Y: (left.Y + right.Y) / 2, Z: (left.Z + right.Z) / 2}
		return [2]space.Vec{m, {X: -m.X, Y: m.Y, Z: m.Z}}
	}
	for bone, joint := range map[string]func(*motion.Limbs) *space.Vec{
		"upperleg01": func(l *motion.Limbs) *space.Vec { return &l.Hip },
		"lowerleg01": func(l *motion.Limbs) *space.Vec { return &l.Knee },
		"foot":       func(l *motion.Limbs) *space.Vec { return &l.Ankle },
		"toe1-1":     func(l *motion.Limbs) *space.Vec { return &l.Ball },
		"upperarm01": func(l *motion.Limbs) *space.Vec { return &l.Shoulder },
		"lowerarm01": func(l *motion.Limbs) *space.Vec { return &l.Elbow },
		"wrist":      func(l *motion.Limbs) *space.Vec { return &l.Wrist },
	} {
		at := mirrored(bone)
		*joint(&s.Sides[motion.Left]), *joint(&s.Sides[motion.Right]) = at[motion.Left], at[motion.Right]
	}
	for bone, joint := range map[string]*space.Vec{
		"spine04": &s.Lumbar, "spine02": &s.Thorax, "neck01": &s.NeckLow, "neck02": &s.NeckHigh,
		"neck03": &s.HeadJoint, "head": &s.Head,
	} {
		*joint = l.mean(bone, naked)
		joint.X = 0
	}
	s.Head.Y += 0.06
	for _, t := range l.base.faces["body"] {
		if v := naked[t.Vertex[0]]; v.Y > s.Crown.Y {
			s.Crown = space.Vec{X: 0, Y: v.Y, Z: v.Z}
		}
	}
	back, tip := math.Inf(1), math.Inf(-1)
	for _, v := range shoe {
		if v.Y < shoeLowM {
			back, tip = math.Min(back, v.Z), math.Max(tip, v.Z)
		}
	}
	var tips, wide float64
	for _, v := range shoe {
		if v.Y < shoeLowM && v.Z > tip-0.02 {
			tips++
			wide += math.Abs(v.X)
		}
	}
	if tips == 0 || math.IsInf(back, 0) {
		return fmt.Errorf("the shoes of a body %.2f m high have no sole", b.HeightM)
	}
	for _, side := range motion.BothSides {
		l := &s.Sides[side]
		l.Ball.Y = ballUpM
		l.Heel = space.Vec{X: l.Ankle.X, Y: markUpM, Z: back + heelInM}
		l.Toe = space.Vec{X: side.Out() * wide / tips, Y: markUpM, Z: tip - toeInM}
	}
	return nil
}

// allFaces returns the triangles of every group, in the groups' order.
func allFaces(m *mesh) []triangle {
	var out []triangle
	for _, group := range slices.Sorted(maps.Keys(m.faces)) {
		out = append(out, m.faces[group]...)
	}
	return out
}

// apart splits a mesh into the connected parts that reach above a height and those that do not.
func apart(m *mesh, at []space.Vec, height float64) (high, low []triangle) {
	parent := make([]int32, len(at))
	for i := range parent {
		parent[i] = int32(i)
	}
	root := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	faces := allFaces(m)
	for _, t := range faces {
		for k := 1; k < 3; k++ {
			parent[root(t.Vertex[k])] = root(t.Vertex[0])
		}
	}
	reaches := map[int32]bool{}
	for i, v := range at {
		if v.Y > height {
			reaches[root(int32(i))] = true
		}
	}
	for _, t := range faces {
		if reaches[root(t.Vertex[0])] {
			high = append(high, t)
		} else {
			low = append(low, t)
		}
	}
	return high, low
}

// above keeps the triangles that reach above a height and pulls those that cross it up to it: a hem.
func above(of []triangle, at []space.Vec, height float64) []triangle {
	var out []triangle
	for _, t := range of {
		reaches := false
		for _, v := range t.Vertex {
			reaches = reaches || at[v].Y > height
		}
		if reaches {
			out = append(out, t)
		}
	}
	for _, t := range out {
		for _, v := range t.Vertex {
			at[v].Y = math.Max(at[v].Y, height)
		}
	}
	return out
}

// compact keeps the vertices that triangles use.
func compact(name string, of []triangle, at []space.Vec, uvs [][2]float32, in [][]influence, t *texture) *piece {
	p := &piece{Name: name, Uvs: uvs, Texture: t}
	if len(uvs) == 0 {
		p.Uvs = make([][2]float32, 1)
	}
	now := map[int32]int32{}
	for _, tri := range of {
		for k, v := range tri.Vertex {
			i, known := now[v]
			if !known {
				i = int32(len(p.rest))
				now[v] = i
				p.rest, p.influences = append(p.rest, at[v]), append(p.influences, in[v])
			}
			tri.Vertex[k] = i
		}
		p.Triangles = append(p.Triangles, tri)
	}
	p.normals = make([]space.Vec, len(p.rest))
	for _, tri := range p.Triangles {
		a, b, c := p.rest[tri.Vertex[0]], p.rest[tri.Vertex[1]], p.rest[tri.Vertex[2]]
		across := b.Sub(a).Cross(c.Sub(a))
		for _, v := range tri.Vertex {
			p.normals[v] = p.normals[v].Add(across)
		}
	}
	for i := range p.normals {
		p.normals[i] = p.normals[i].Unit()
	}
	return p
}
