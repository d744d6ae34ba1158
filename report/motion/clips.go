package motion

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"holdfast/screening"
	"holdfast/vision/media"
	"holdfast/vision/paint"
	"holdfast/vision/plane"
	"holdfast/words"
)

// OpenClip opens the file of an analysis. Another file under the same name, which
// phones that count from 1 again bring about, must not be shown with these
// numbers: it is refused like a missing one.
func OpenClip(ctx context.Context, a *screening.Analysis) (*media.Clip, error) {
	clip, err := media.Open(ctx, a.Clip.Path)
	if err == nil {
		clip.Turn(a.Clip.TurnedDeg)
	}
	if err != nil || len(a.Clip.SHA256) != 2*sha256.Size {
		return clip, err
	}
	f, err := os.Open(a.Clip.Path)
	if err != nil {
		return nil, &media.ClipError{Path: a.Clip.Path, Err: fmt.Errorf("%w: %w", media.ErrUnreadable, err)}
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return nil, &media.ClipError{Path: a.Clip.Path, Err: fmt.Errorf("%w: %w", media.ErrUnreadable, err)}
	}
	if !strings.EqualFold(hex.EncodeToString(sum.Sum(nil)), a.Clip.SHA256) {
		return nil, &media.ClipError{Path: a.Clip.Path,
			Err: fmt.Errorf("%w: it is another file than the one analysed", media.ErrUnreadable)}
	}
	return clip, nil
}

func ClipGone(a *screening.Analysis, err error) screening.Warning {
	reason := err.Error()
	var ce *media.ClipError
	if errors.As(err, &ce) && ce.Err != nil {
		reason = ce.Err.Error()
	}
	return screening.Warning{Code: "no_pictures", Params: words.Params{
		"form": "clip", "name": a.Clip.Name, "reason": strings.TrimSuffix(reason, "."), "path": a.Clip.Path}}
}

// OnFrame makes a mapping of the clip's places one of the frame's own, which may
// have been decoded smaller.
func OnFrame(m plane.Affine, fr *media.Frame) plane.Affine {
	k := fr.ScalePx
	if !(k > 0) {
		k = 1
	}
	return plane.Affine{A: m.A * k, B: m.B * k, C: m.C, D: m.D * k, E: m.E * k, F: m.F}
}

// Player gives the frame of a clip at rising times.
type Player struct {
	Frames    *media.Frames
	now, next *media.Frame
	ended     bool
	Heads     *paint.Heads // to be made unrecognisable; nil: none
	hidden    bool         // those of now
}

// At returns the frame shown at a time of the file, which must not fall from call to call.
// The frame is the player's own and holds until the next call.
func (p *Player) At(timeS float64) (*media.Frame, error) {
	for {
		if p.next == nil && !p.ended {
			fr, err := p.Frames.Next()
			switch {
			case errors.Is(err, io.EOF):
				p.ended = true
			case err != nil:
				return nil, err
			}
			p.next = fr
		}
		if p.next == nil || p.now != nil && p.next.TimeS > timeS+1e-6 {
			break
		}
		if p.now != nil {
			p.now.Close()
		}
		p.now, p.next, p.hidden = p.next, nil, false
	}
	if p.now == nil {
		return nil, fmt.Errorf("%w: it holds no frame", media.ErrUnreadable)
	}
	if !p.hidden {
		if err := p.now.Hide(p.Heads); err != nil {
			return nil, err
		}
		p.hidden = true
	}
	return p.now, nil
}

func (p *Player) Close() {
	for _, fr := range []*media.Frame{p.now, p.next} {
		if fr != nil {
			fr.Close()
		}
	}
	_ = p.Frames.Close()
}
