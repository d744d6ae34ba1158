package media

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"holdfast/words"
)

// CheckContainer returns nil for a file that is built as one of the containers in which
// cameras keep a clip: MP4, MOV and 3GP; Matroska and WebM; AVI; MPEG transport and
// programme streams. It follows the file's structure from part to part and reads no
// picture. A clip that was cut off at its end passes when what describes its pictures is
// there.
//
// It is stricter than a look at the first letters, because the decoder also reads lists
// of other files and looks for them anywhere in a text. The error wraps ErrUnreadable for
// what is none of these or keeps its pictures in another file, ErrCutOff as well for one
// that ends before the description of its pictures, ErrNoVideo for one without moving
// pictures, and r's error when r cannot be read.
func CheckContainer(r io.ReaderAt, sizeBytes int64) error {
	f := &parts{r: r, end: sizeBytes, left: maxParts}
	var head [16]byte
	n, err := f.read(head[:], 0)
	if err != nil {
		return err
	}
	switch h := head[:n]; {
	case startsAsPictureOrSound(h):
		err = errNoPictures
	case bytes.HasPrefix(h, []byte{0x1A, 0x45, 0xDF, 0xA3}):
		err = f.matroska()
	case bytes.HasPrefix(h, []byte("RIFF")):
		err = f.avi()
	case bytes.HasPrefix(h, []byte{0, 0, 1, 0xBA}):
		err = f.programStream()
	default:
		// A transport stream begins with one letter, a box with its length: it is tried first.
		if err = f.transportStream(); errors.Is(err, errNoContainer) {
			err = f.boxes()
		}
	}
	if f.err != nil {
		return f.err
	}
	return err
}

// maxParts bounds how many parts of a file are looked at: ten times what ten minutes
// take in one-frame fragments would be no clip of a phone.
const maxParts = 1 << 18

var (
	errNoContainer = words.Because(ErrUnreadable, "no_container", nil)
	errNoPictures  = words.Because(ErrNoVideo, "no_pictures", nil)
	errElsewhere   = words.Because(ErrUnreadable, "elsewhere", nil)
)

// startsAsPictureOrSound knows what people choose by mistake, to tell them so.
func startsAsPictureOrSound(head []byte) bool {
	for _, start := range []string{"\x89PNG", "\xFF\xD8\xFF", "GIF8", "II*\x00", "MM\x00*", "ID3", "\xFF\xFB",
		"\xFF\xF3",
		"\xFF\xF2", "fLaC"} {
		if bytes.HasPrefix(head, []byte(start)) {
			return true
		}
	}
	return len(head) >= 12 && string(head[:4]) == "RIFF" && (string(head[8:12]) == "WAVE" || string(head[8:12]) == "WEBP")
}

// parts reads a file part by part. Its first error is kept.
type parts struct {
	r    io.ReaderAt
	end  int64 // of the file
	left int   // parts that may still be looked at
	err  error
}

// read fills b from a place on and returns how much there was before the file's end.
func (f *parts) read(b []byte, at int64) (int, error) {
	if at < 0 || at >= f.end || f.err != nil {
		return 0, f.err
	}
	if left := f.end - at; int64(len(b)) > left {
		b = b[:left]
	}
	n, err := f.r.ReadAt(b, at)
	if err != nil && !errors.Is(err, io.EOF) {
		f.err = fmt.Errorf("reading the clip's structure: %w", err)
	}
	return n, f.err
}

// whole says whether b could be filled from a place on.
func (f *parts) whole(b []byte, at int64) bool {
	n, err := f.read(b, at)
	return err == nil && n == len(b)
}

// next says whether one more part may be looked at.
func (f *parts) next() bool {
	f.left--
	return f.left >= 0 && f.err == nil
}

// A box of MP4 and MOV (ISO/IEC 14496-12, "Object structure"): its kind and where its
// content lies. The content may end after the file does.
type box struct {
	kind       string
	start, end int64
}

// boxAt reads the head of the box at a place in a parent that ends at parentEnd.
func (f *parts) boxAt(at, parentEnd int64) (b box, ok bool) {
	var head [16]byte
	if parentEnd-at < 8 || !f.whole(head[:8], at) {
		return box{}, false
	}
	b.kind = string(head[4:8])
	size, header := int64(binary.BigEndian.Uint32(head[:])), int64(8)
	switch size {
	case 0: // to the end of what it lies in
		size = parentEnd - at
	case 1:
		if !f.whole(head[8:], at+8) {
			return box{}, false
		}
		header = 16
		large := binary.BigEndian.Uint64(head[8:])
		if large > 1<<62 {
			return box{}, false
		}
		size = int64(large)
	}
	if size < header || at > (1<<62)-size {
		return box{}, false
	}
	b.start, b.end = at+header, at+size
	return b, true
}

// each calls do for every box between two places, as far as they form a chain. What
// follows the chain is passed over, as decoders do.
func (f *parts) each(start, end int64, do func(box) error) error {
	for at := start; at < end && f.next(); {
		b, ok := f.boxAt(at, end)
		if !ok {
			return nil
		}
		if err := do(b); err != nil {
			return err
		}
		at = b.end
	}
	return nil
}

// inside calls do for the boxes inside a box that must be whole.
func (f *parts) inside(b box, do func(box) error) error {
	if b.end > f.end {
		return errNoContainer
	}
	return f.each(b.start, b.end, func(part box) error {
		part.end = min(part.end, b.end)
		return do(part)
	})
}

// boxes checks MP4, MOV and 3GP.
func (f *parts) boxes() error {
	movies, pictures, still := 0, false, false
	first := true
	var last box
	err := f.each(0, f.end, func(b box) error {
		last = b
		if first {
			first = false
			switch b.kind {
			case "ftyp", "styp", "moov", "mdat", "wide", "free", "skip", "pnot", "uuid", "junk":
			default:
				return errNoContainer
			}
		}
		switch b.kind {
		case "moov":
			movies++
			if b.end > f.end {
				return cutOff(f.end, b.end)
			}
			found, err := f.movie(b)
			pictures = pictures || found
			return err
		case "meta": // a phone's photograph has this in place of a movie
			still = true
		case "trak", "mdia", "minf", "dinf", "dref", "rmra": // decoders would look at these here too
			return errElsewhere
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case movies == 0 && !still && last.kind == "mdat":
		return cutOff(f.end, last.end)
	case movies == 0 && !still:
		return errNoContainer
	case !pictures:
		return errNoPictures
	}
	// What follows the movie may be cut off, or be something else that a phone has added.
	return nil
}

// cutOff says how much there is of a file whose description, which phones write last, did not come with it; about how
// much there should be is known where the box that breaks off says its own length.
func cutOff(has, about int64) error {
	const mb = 1e6
	if about <= has {
		return words.Because(ErrCutOff, "without_index", words.Params{"has_mb": float64(has) / mb})
	}
	return words.Because(ErrCutOff, "cut_off", words.Params{"has_mb": float64(has) / mb, "about_mb": float64(about) / mb})
}

// movie checks a moov box and says whether a track of it holds moving pictures.
func (f *parts) movie(moov box) (pictures bool, err error) {
	err = f.inside(moov, func(b box) error {
		switch b.kind {
		case "rmra", "cmov": // a list of other files; a movie that no check could look into
			return errElsewhere
		case "trak":
			found, err := f.boxTrack(b)
			pictures = pictures || found
			return err
		}
		return nil
	})
	return pictures, err
}

// boxTrack checks a track and says whether it holds moving pictures.
func (f *parts) boxTrack(trak box) (pictures bool, err error) {
	err = f.inside(trak, func(mdia box) error {
		if mdia.kind != "mdia" {
			return nil
		}
		return f.inside(mdia, func(b box) error {
			switch b.kind {
			case "hdlr":
				// Version and flags, a field that QuickTime alone uses, the kind of track.
				var head [12]byte
				if !f.whole(head[:], b.start) || b.end-b.start < int64(len(head)) {
					return errNoContainer
				}
				pictures = pictures || string(head[8:]) == "vide"
			case "minf":
				return f.inside(b, func(dinf box) error {
					if dinf.kind != "dinf" {
						return nil
					}
					return f.inside(dinf, f.dataReferences)
				})
			}
			return nil
		})
	})
	return pictures, err
}

// dataReferences checks that the data of a track lies in this file (ISO/IEC 14496-12,
// "Data Reference Box": flag 1; some writers leave the flag out and name nothing).
func (f *parts) dataReferences(dref box) error {
	if dref.kind != "dref" {
		return nil
	}
	const header = 8 // version and flags, number of entries
	if dref.end-dref.start < header || dref.end > f.end {
		return errNoContainer
	}
	return f.each(dref.start+header, dref.end, func(b box) error {
		var flags [4]byte
		if !f.whole(flags[:], b.start) || b.end-b.start < 4 {
			return errNoContainer
		}
		if flags[3]&1 == 0 && b.end-b.start > 4 {
			return errElsewhere
		}
		return nil
	})
}

// Elements of Matroska beside those in encode.go (RFC 9559).
const idVoid, idCRC32 = 0xEC, 0xBF

// elementAt reads the head of a Matroska element (RFC 8794): its number, and where its
// content lies; a size that is not known reaches to parentEnd.
func (f *parts) elementAt(at, parentEnd int64) (id uint32, start, end int64, ok bool) {
	var head [12]byte
	n, err := f.read(head[:], at)
	if err != nil || n < 2 || head[0] < 0x10 { // a number has four bytes at most
		return 0, 0, 0, false
	}
	idLength := leadingLength(head[0])
	if idLength >= n {
		return 0, 0, 0, false
	}
	for _, c := range head[:idLength] {
		id = id<<8 | uint32(c)
	}
	sizeLength := leadingLength(head[idLength])
	if head[idLength] == 0 || idLength+sizeLength > n {
		return 0, 0, 0, false
	}
	size := int64(head[idLength]) &^ (0x80 >> (sizeLength - 1))
	unknown := size == 0x7F>>(sizeLength-1)
	for _, c := range head[idLength+1 : idLength+sizeLength] {
		size = size<<8 | int64(c)
		unknown = unknown && c == 0xFF
	}
	start = at + int64(idLength+sizeLength)
	end = start + size
	if unknown {
		end = parentEnd
	}
	return id, start, end, start <= parentEnd
}

// leadingLength is the number of bytes that a variable-length number has.
func leadingLength(first byte) int {
	n := 1
	for mask := byte(0x80); mask != 0 && first&mask == 0; mask >>= 1 {
		n++
	}
	return n
}

// elements calls do for every element between two places until it says stop.
func (f *parts) elements(start, end int64, do func(id uint32, start, end int64) (stop bool, err error)) error {
	for at := start; at < min(end, f.end) && f.next(); {
		id, from, to, ok := f.elementAt(at, end)
		if !ok {
			return nil // what was found until here counts
		}
		if stop, err := do(id, from, to); stop || err != nil {
			return err
		}
		at = to
	}
	return nil
}

// matroska checks Matroska and WebM: the header with one of their two names, a segment,
// and a track of pictures where the tracks are described before the pictures.
func (f *parts) matroska() error {
	id, start, end, ok := f.elementAt(0, f.end)
	if !ok || id != idEBML || end > f.end || end-start > 4096 {
		return errNoContainer
	}
	named := false
	err := f.elements(start, end, func(id uint32, start, end int64) (bool, error) {
		if id == idDocType && end-start <= 16 && end-start > 0 {
			name := make([]byte, end-start)
			named = f.whole(name, start)
			name = bytes.TrimRight(name, "\x00")
			named = named && (string(name) == "matroska" || string(name) == "webm")
		}
		return false, nil
	})
	if err != nil || !named {
		return errors.Join(err, errNoContainer)
	}
	found := false
	err = f.elements(end, f.end, func(id uint32, start, end int64) (bool, error) {
		switch id {
		case idVoid, idCRC32:
			return false, nil
		case idSegment:
			found = true
			return true, f.segment(start, end)
		}
		return true, nil
	})
	if err == nil && !found {
		err = errNoContainer
	}
	return err
}

// segment checks the content of a Matroska file.
func (f *parts) segment(start, end int64) error {
	found, tracks, pictures := false, false, false
	err := f.elements(start, end, func(id uint32, start, end int64) (bool, error) {
		switch id {
		case idTracks:
			found, tracks = true, true
			return true, f.elements(start, end, func(id uint32, start, end int64) (bool, error) {
				if id != idTrackEntry {
					return false, nil
				}
				return false, f.elements(start, end, func(id uint32, start, end int64) (bool, error) {
					var kind [1]byte
					if id == idTrackType && end-start == 1 && f.whole(kind[:], start) {
						pictures = pictures || kind[0] == 1
					}
					return false, nil
				})
			})
		case idCluster: // pictures before the tracks: the decoder has to see
			found = true
			return true, nil
		}
		return false, nil
	})
	switch {
	case err != nil:
		return err
	case !found:
		return errNoContainer
	case tracks && !pictures:
		return errNoPictures
	}
	return nil
}

// chunkAt reads the head of a RIFF chunk: its kind, that of its list, and where its
// content lies.
func (f *parts) chunkAt(at int64) (kind, list string, start, end int64, ok bool) {
	var head [12]byte
	n, err := f.read(head[:], at)
	if err != nil || n < 8 {
		return "", "", 0, 0, false
	}
	kind = string(head[:4])
	start = at + 8
	end = start + int64(binary.LittleEndian.Uint32(head[4:]))
	if (kind == "RIFF" || kind == "LIST") && n == len(head) {
		list = string(head[8:])
		start += 4
	}
	return kind, list, start, end, start <= end
}

// avi checks AVI: a RIFF file whose first list is the header, with its main header and a
// stream of pictures.
func (f *parts) avi() error {
	kind, list, at, _, ok := f.chunkAt(0)
	if !ok || kind != "RIFF" || list != "AVI " {
		return errNoContainer
	}
	// The sizes of the file as a whole are wrong where a camera was switched off in the middle.
	for at < f.end && f.next() {
		kind, list, start, end, ok := f.chunkAt(at)
		if !ok || list == "movi" {
			return errNoContainer
		}
		if kind == "LIST" && list == "hdrl" {
			return f.aviHeader(start, end)
		}
		at = end + end&1
	}
	return errNoContainer
}

func (f *parts) aviHeader(at, end int64) error {
	if end > f.end {
		return errNoContainer
	}
	main, pictures := false, false
	for at < end && f.next() {
		kind, list, start, to, ok := f.chunkAt(at)
		if !ok {
			break
		}
		main = main || kind == "avih"
		if list == "strl" {
			// The stream's header comes first; it begins with the kind of stream. Camcorders
			// keep pictures and sound in one.
			kind, _, start, _, ok := f.chunkAt(start)
			var is [4]byte
			if ok && kind == "strh" && f.whole(is[:], start) {
				pictures = pictures || string(is[:]) == "vids" || string(is[:]) == "iavs"
			}
		}
		at = to + to&1
	}
	switch {
	case !main:
		return errNoContainer
	case !pictures:
		return errNoPictures
	}
	return nil
}

// transportStream checks an MPEG transport stream (ISO/IEC 13818-1): packets that begin
// with 0x47, one of which begins the table of programmes. Camcorders put a time of four
// bytes before each packet, broadcasters 16 bytes of correction behind it.
func (f *parts) transportStream() error {
	const sync, least, synced, looked = 0x47, 3, 32, 8192
	for _, form := range []struct{ length, before int64 }{{188, 0}, {192, 4}, {204, 0}} {
		var head [3]byte
		table := false
		for i := int64(0); i < looked && f.next(); i++ {
			at := i*form.length + form.before
			if !f.whole(head[:], at) || head[0] != sync {
				// A few lost bytes later on are the decoder's to get over.
				if i < synced {
					break
				}
				continue
			}
			table = table || head[1]&0x1F == 0 && head[2] == 0 && head[1]&0x40 != 0
			if table && i >= least {
				return nil
			}
		}
	}
	return errNoContainer
}

// programStream checks an MPEG programme stream (ISO/IEC 13818-1, MPEG-1: ISO/IEC
// 11172-1): pack headers and packets one after the other, some with pictures.
func (f *parts) programStream() error {
	const enough, looked = 4, 4096
	at, good, pictures := int64(0), 0, false
	for range looked {
		var head [14]byte
		n, err := f.read(head[:], at)
		if err != nil || n < 6 || head[0] != 0 || head[1] != 0 || head[2] != 1 || !f.next() {
			break
		}
		switch id := head[3]; {
		case id == 0xB9: // the end
			at += 4
		case id == 0xBA && n >= 12 && head[4]>>4 == 2:
			at += 12
		case id == 0xBA && n >= 14 && head[4]>>6 == 1:
			at += 14 + int64(head[13]&7)
		case id >= 0xBB:
			pictures = pictures || id >= 0xE0 && id <= 0xEF || id == 0xFD
			at += 6 + int64(binary.BigEndian.Uint16(head[4:]))
		default:
			return errNoContainer
		}
		if good++; pictures && good >= enough {
			return nil
		}
	}
	if good >= enough {
		return errNoPictures
	}
	return errNoContainer
}
