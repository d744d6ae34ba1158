package pages

import (
	"context"

	"holdfast/archive"
	"holdfast/report/said"
	"holdfast/screening"
)

// joinedCard is the clip of the same set from the other view.
type joinedCard struct {
	archive.Clip
	Front bool             // it is the one from the front
	Lines []string         // what it shows, a line a tempo
	Table *said.FrontTable // of one from the front; nil: it is from the side
	Told  []string         // what does not fit
}

// joinedOf returns the clip that a clip is joined with; nil: none.
func (m *Maker) joinedOf(ctx context.Context, c archive.Clip) (*joinedCard, error) {
	other, err := m.Desk.Joined.With(ctx, c)
	if err != nil || other == nil {
		return nil, err
	}
	of := said.SayAnalysis(other.Analysis)
	return &joinedCard{other.Clip, other.Analysis.View.Front, of.Answers, of.Front, sayAll(other.Told)}, nil
}

func sayAll(warnings []screening.Warning) (out []string) {
	for _, w := range warnings {
		out = append(out, screening.Say(w))
	}
	return out
}

// setCard is one set filmed from the side and from the front.
type setCard struct {
	Side, Front string // names
	Lines       []string
	Told        []string
}

// setsOf lists those of the clips of a visit.
func (m *Maker) setsOf(ctx context.Context, cards []clipCard) (out []setCard, err error) {
	for _, c := range cards {
		other, err := m.Desk.Joined.With(ctx, c.clip)
		if err != nil {
			return nil, err
		}
		if other == nil || !other.Analysis.View.Front {
			continue
		}
		side, err := m.Desk.Summary(c.clip)
		if err != nil {
			return nil, err
		}
		out = append(out, setCard{c.Name, other.Clip.Name,
			append(said.SayAnalysis(side).Answers, said.SayAnalysis(other.Analysis).Answers...), sayAll(other.Told)})
	}
	return out, nil
}
