package foot

import (
	"cmp"
	"image"
	"math"
	"slices"

	"gocv.io/x/gocv"

	"holdfast/vision/media"
	"holdfast/vision/plane"
	"holdfast/vision/pose"
)

// Album keeps a small grey picture of the feet from each frame of a clip, until it is
// known in which of them the athlete stands.
type Album struct {
	index  [2]footIndex // of the left and the right side
	shrunk int          // pixels of the tracked picture that a kept one spans; 0: not settled
	clipPx float64      // pixels of the clip that it spans
	every  int          // frames from one that is kept to the next
	kept   []footPicture
	bytes  int
	shelf  media.Shelf // where their pixels are kept
}

// footIndex says where a side's points stand among the key points, -1 where the network
// has none.
type footIndex struct{ shoulder, hip, knee, ankle, heel, toe int }

func (f footIndex) whole() bool { return min(f.shoulder, f.hip, f.knee, f.ankle, f.heel, f.toe) >= 0 }

// footPicture is one of them.
type footPicture struct {
	pose int      // its place in the track
	from plane.XY // its upper left corner, pixels of the clip
	w, h int
	grey media.Piece
}

// What is kept; common practice, no source. Lengths are parts of a foot, which is
// footOfShank of a shank long (Winter 2009, table 4.1: 0.152 and 0.246 of the height).
const (
	footOfShank    = 0.62
	mostFootPx     = 110
	leastFootPx    = 12
	roundFootAlong = 0.75
	roundFootUp    = 0.6
	mostAlbumBytes = 192 << 20
)

// NewAlbum returns an empty album for a network whose points have these names.
func NewAlbum(names []string) *Album {
	a := &Album{every: 1}
	for side, name := range [2]string{"left_", "right_"} {
		at := func(point string) int { return slices.Index(names, name+point) }
		a.index[side] = footIndex{at("shoulder"), at("hip"), at("knee"), at("ankle"), at("heel"), at("foot_index")}
	}
	return a
}

// Close gives back what the pictures take outside of memory.
func (a *Album) Close() error { return a.shelf.Close() }

// Keep takes in the feet of a frame; pose is its place in the track.
func (a *Album) Keep(frame *media.Frame, pose int, p *pose.Pose) {
	if !p.Found || pose%a.every != 0 {
		return
	}
	k := frame.ScalePx
	var box [4]float64 // left, top, right, bottom in pixels of the picture
	foot := 0.0
	for _, index := range a.index {
		if !index.whole() {
			continue
		}
		knee, ankle := p.Keypoints[index.knee], p.Keypoints[index.ankle]
		shank := math.Hypot(knee.X-ankle.X, knee.Y-ankle.Y) / k
		for _, i := range [3]int{index.ankle, index.heel, index.toe} {
			q := p.Keypoints[i]
			if math.IsNaN(shank) || q.Missing() {
				continue
			}
			x, y := q.X/k, q.Y/k
			if foot == 0 {
				box = [4]float64{x, y, x, y}
			}
			foot = max(foot, footOfShank*shank)
			box = [4]float64{min(box[0], x), min(box[1], y), max(box[2], x), max(box[3], y)}
		}
	}
	if !(foot > 0) {
		return
	}
	if a.shrunk == 0 {
		a.shrunk = max(1, int(math.Ceil(foot/mostFootPx)))
		a.clipPx = k * float64(a.shrunk)
	}
	along, up := roundFootAlong*foot, roundFootUp*foot
	r := image.Rect(int(box[0]-along), int(box[1]-up), int(box[2]+along), int(box[3]+up)).
		Intersect(image.Rect(0, 0, frame.Mat.Cols(), frame.Mat.Rows()))
	w, h := r.Dx()/a.shrunk, r.Dy()/a.shrunk
	if min(w, h) < leastFootPx || float64(r.Dx()) > 8*foot || float64(r.Dy()) > 8*foot {
		return
	}
	r.Max = r.Min.Add(image.Pt(w*a.shrunk, h*a.shrunk))
	part, small, grey := frame.Mat.Region(r), gocv.NewMat(), gocv.NewMat()
	media.Shrink(part, &small, &grey, (max(r.Dx(), r.Dy())+a.shrunk-1)/a.shrunk)
	a.kept = append(a.kept, footPicture{
		pose: pose, from: plane.XY{X: k * float64(r.Min.X), Y: k * float64(r.Min.Y)},
		w: grey.Cols(), h: grey.Rows(), grey: a.shelf.Put(grey.ToBytes()),
	})
	for _, m := range []*gocv.Mat{&part, &small, &grey} {
		_ = m.Close() // native memory always closes
	}
	if a.bytes += w * h; a.bytes > mostAlbumBytes {
		a.thin()
	}
}

// thin keeps every second picture of those that are kept, now and from now on.
func (a *Album) thin() {
	a.every *= 2
	a.kept = slices.DeleteFunc(a.kept, func(p footPicture) bool { return p.pose%a.every != 0 })
	a.bytes = 0
	for _, p := range a.kept {
		a.bytes += p.grey.Size()
	}
}

// place returns where a place of the clip lies in the picture.
func (p *footPicture) place(q plane.XY, clipPx float64) plane.XY {
	return plane.XY{X: (q.X-p.from.X)/clipPx - 0.5, Y: (q.Y-p.from.Y)/clipPx - 0.5}
}

// sureSidePart of the frames in which the athlete was seen must agree on which side is nearer for it to be sure.
const sureSidePart = 0.2

// nearSide returns the side whose hip and shoulder the network's depth puts in front in
// most frames: 0 left, 1 right; -1 where it is not sure.
func (a *Album) nearSide(t *pose.Track) int {
	votes, seen := 0, 0
	for i := range t.Poses {
		if p := &t.Poses[i]; p.Found && a.index[0].whole() && a.index[1].whole() {
			seen++
			var depth [2]float64
			for side, index := range a.index {
				depth[side] = p.Keypoints[index.hip].Z + p.Keypoints[index.shoulder].Z
			}
			votes += cmp.Compare(depth[1], depth[0])
		}
	}
	switch sure := sureSidePart * float64(seen); {
	case float64(votes) > sure:
		return 0
	case float64(-votes) > sure:
		return 1
	}
	return -1
}
