package media

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// damageArguments make the decoder say which packet it complains of. In one thread
// it takes a packet, decodes it and announces the pictures that are due before it
// takes the next; -debug_ts prints a line as each packet is taken, and a complaint
// belongs to the last one taken. The debug level adds what a packet holds and
// whether its picture came to its end: the decoder of HEVC says nothing else of a
// slice that ends too early.
var damageArguments = []string{"-threads", "1", "-debug_ts"}

const (
	logLevel       = "level+info"
	damageLogLevel = "repeat+level+debug" // repeat: a complaint said again is printed again
)

// damageWatch finds the pictures of a clip that are damaged or predicted from
// damaged ones, from what the decoder prints.
//
// A picture that could not be decoded spoils the pictures predicted from it, hence
// everything decoded after it until a picture that needs no other. Only a picture
// that no other refers to (nal_ref_idc 0, Rec. ITU-T H.264, 7.4.1) spoils nothing
// but itself, and pictures shown before the key picture they are stored behind
// spoil none that is shown after it.
type damageWatch struct {
	codec   string
	order   map[int64]int // number of the packet by its picture's time stamp
	taken   int           // packets
	packet  damagedPacket // the last one taken
	coming  bool          // the next packet is damaged
	shown   bool          // the next picture announced is damaged
	refers  bool          // the last packet taken may be referred to
	slices  bool          // it holds a piece of a picture
	whole   bool          // its picture came to its end
	broken  []damagedPacket
	keyPTS  int64
	anyKey  bool
	lonePTS []int64 // damaged pictures that no other refers to
}

type damagedPacket struct {
	number int
	pts    int64
	timed  bool // pts is known
}

func newDamageWatch(codec string) *damageWatch {
	return &damageWatch{codec: codec, order: map[int64]int{}}
}

var (
	packetTaken  = regexp.MustCompile(`^\[\w+\] demuxer\+ffmpeg -> .*type:video pkt_pts:(-?\d+|NOPTS) `)
	contextLine  = regexp.MustCompile(`^\[(\w+) @ \w+\] \[(\w+)\] (.*)`)
	unreferenced = regexp.MustCompile(`^nal_unit_type: 1\(.*nal_ref_idc: 0`)
	pieceOfHEVC  = regexp.MustCompile(`^nal_unit_type: (\d+)\(`)
)

// harmless are complaints that whole clips earn as well: of notes beside the
// picture, and of references that a clip cut from a longer one lost with the
// pictures before its start.
var harmless = regexp.MustCompile(`\bSEI\b|\bVUI\b|co located POCs unavailable|mmco: unref short failure|` +
	`Overread|deprecated`)

// lostReference are complaints that a picture before this one is lost, and with it
// what else is predicted from it.
var lostReference = regexp.MustCompile(`(?i)missing|find ref|number of reference frames`)

// line takes a line that announces no picture.
func (w *damageWatch) line(l string) {
	if m := packetTaken.FindStringSubmatch(l); m != nil {
		w.end()
		w.packet = damagedPacket{number: w.taken}
		if pts, err := strconv.ParseInt(m[1], 10, 64); err == nil {
			w.packet.pts, w.packet.timed = pts, true
			w.order[pts] = w.taken
		}
		w.taken++
		w.refers, w.slices, w.whole = true, false, false
		if w.coming {
			w.coming = false
			w.damaged(true)
		}
		return
	}
	if strings.HasPrefix(l, "[warning] ") {
		switch {
		case strings.Contains(l, "corrupt input packet in stream"): // said before the packet is taken
			w.coming = true
		case strings.Contains(l, "corrupt decoded frame in stream"): // said before the picture is announced
			w.shown = true
		}
		return
	}
	if w.taken == 0 {
		return // the decoder tries the first packets beforehand
	}
	if strings.HasPrefix(l, "[error] Error while decoding stream") {
		w.damaged(w.refers)
		return
	}
	m := contextLine.FindStringSubmatch(l)
	if m == nil || m[1] != w.codec && m[1] != "lib"+decoderOf(w.codec) {
		return
	}
	switch text := m[3]; m[2] {
	case "info":
		if strings.HasPrefix(text, "concealing") {
			w.damaged(w.refers)
		}
	case "error", "fatal", "panic":
		if !harmless.MatchString(text) {
			w.damaged(w.refers || lostReference.MatchString(text))
		}
	case "debug":
		if w.codec == "h264" {
			w.refers = w.refers && !unreferenced.MatchString(text)
			// A clip that was cut from a longer one begins with any number.
			if w.taken > 1 && strings.HasPrefix(text, "Frame num gap") {
				w.damaged(true)
			}
		}
		if w.codec != "hevc" {
			return
		}
		if p := pieceOfHEVC.FindStringSubmatch(text); p != nil && (len(p[1]) == 1 || p[1] < "32") {
			w.slices = true
		}
		w.whole = w.whole || strings.HasPrefix(text, "Decoded frame with POC")
	}
}

// decoderOf is the library that decodes a format that ffmpeg does not itself.
func decoderOf(codec string) string {
	if codec == "av1" {
		return "dav1d"
	}
	return codec
}

// end looks back at the last packet when the next is taken.
func (w *damageWatch) end() {
	if w.codec == "hevc" && w.slices && !w.whole {
		w.damaged(true)
	}
	w.slices = false
}

// damaged notes that the last packet taken is; spreads says that others may suffer.
func (w *damageWatch) damaged(spreads bool) {
	p := w.packet
	switch {
	case p.timed && w.anyKey && p.pts < w.keyPTS:
		return // belongs before a key picture that was announced already
	case p.timed && !spreads:
		w.lonePTS = append(w.lonePTS, p.pts)
	case len(w.broken) == 0 || w.broken[len(w.broken)-1] != p:
		w.broken = append(w.broken, p)
	}
}

// deepestReorder is how many pictures at most are decoded before one that is shown
// ahead of them (Rec. ITU-T H.264, A.3.1: max_dec_frame_buffering).
const deepestReorder = 16

// picture takes the announcement of a picture and says whether it is damaged. key
// says that it needs no other picture.
func (w *damageWatch) picture(pts int64, key bool) bool {
	w.end()
	n, ordered := w.order[pts]
	delete(w.order, pts)
	if !ordered {
		n = w.taken - deepestReorder
	}
	if w.shown {
		w.shown = false
		if !slices.Contains(w.lonePTS, pts) {
			w.broken = append(w.broken, damagedPacket{number: n, pts: pts, timed: ordered})
		}
	}
	if key {
		w.keyPTS, w.anyKey = pts, ordered
		w.broken = slices.DeleteFunc(w.broken, func(p damagedPacket) bool {
			return p.number < n || ordered && p.timed && p.pts < pts
		})
	}
	if i := slices.Index(w.lonePTS, pts); i >= 0 {
		w.lonePTS = slices.Delete(w.lonePTS, i, i+1)
		return true
	}
	return slices.ContainsFunc(w.broken, func(p damagedPacket) bool { return !ordered || p.number <= n })
}
