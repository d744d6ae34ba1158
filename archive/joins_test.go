package archive

import (
	"testing"
)

// Two clips of one visit are joined, and stay so when the archive is opened again; parted, both stay. One that goes to
// another visit takes the other along, one that goes to another athlete or is deleted leaves it.
func TestJoins(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	opt := Options{}
	d := open(t, dir, opt)
	ctx := t.Context()
	who := d.athlete("one")
	v := d.visit(who, "2026-02-03")
	side, front, third := d.clip(v, "side"), d.clip(v, "front"), d.clip(v, "third")
	elsewhere := d.clip(d.visit(who, "2026-02-04"), "another day")
	joined := func(c, with Clip) {
		t.Helper()
		for _, pair := range [][2]string{{c.ID, with.ID}, {with.ID, c.ID}} {
			if pair[0] == "" {
				continue
			}
			got, err := d.Clip(ctx, pair[0])
			d.must(err)
			same(t, "joined with", got.JoinedWith, pair[1])
		}
	}
	is(t, "of two days", d.JoinClips(ctx, side.ID, elsewhere.ID), ErrInvalid)
	is(t, "with itself", d.JoinClips(ctx, side.ID, side.ID), ErrInvalid)
	is(t, "nothing", d.JoinClips(ctx, side.ID, "none"), ErrNotFound)
	is(t, "not joined", d.PartClips(ctx, side.ID), ErrNotFound)
	d.must(d.JoinClips(ctx, side.ID, front.ID))
	is(t, "joined", d.JoinClips(ctx, third.ID, front.ID), ErrInvalid)
	joined(side, front)
	d.must(d.Close())
	d = open(t, dir, opt)
	joined(side, front)
	all, err := d.ClipsOf(ctx, who.ID)
	d.must(err)
	for _, c := range all {
		if (c.JoinedWith != "") != (c.ID == side.ID || c.ID == front.ID) {
			t.Errorf("%s is joined with %q", c.Name, c.JoinedWith)
		}
	}

	d.must(d.PartClips(ctx, front.ID))
	joined(side, Clip{})
	joined(front, Clip{})
	d.must(d.JoinClips(ctx, side.ID, front.ID))
	side.VisitID = elsewhere.VisitID
	d.must(d.UpdateClip(ctx, side))
	got, err := d.Clip(ctx, front.ID)
	d.must(err)
	same(t, "visit of the other", got.VisitID, elsewhere.VisitID)
	joined(side, front)

	other := d.visit(d.athlete("two"), "2026-02-04")
	side.VisitID = other.ID
	d.must(d.UpdateClip(ctx, side))
	joined(side, Clip{})
	joined(front, Clip{})
	d.must(d.JoinClips(ctx, elsewhere.ID, front.ID))
	d.must(d.DeleteClip(ctx, front.ID))
	joined(elsewhere, Clip{})
}
