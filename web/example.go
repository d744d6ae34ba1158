package web

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"holdfast/archive"
	"holdfast/desk/given"
	"holdfast/testdata/clips"
	"holdfast/testdata/tracks"
	"holdfast/web/noted"
)

// The example athlete: invented, and the person in the clips is rendered.
const (
	exampleName  = "Sam Example"
	exampleNotes = "An invented athlete with three rendered clips, to try Holdfast with. Remove it whenever you like."
)

// handleExample adds the example athlete with the shipped clips, which are measured from what
// the network is known to see in them.
func (s *Server) handleExample(w http.ResponseWriter, r *http.Request) {
	ctx := r.Context()
	status := http.StatusCreated
	athlete, found, err := s.example(ctx)
	if err == nil && !found {
		athlete, err = s.archive.CreateAthlete(ctx, archive.Athlete{Name: exampleName, Notes: exampleNotes, Example: true})
		noted.Made(ctx, athlete.ID)
	} else if found {
		status = http.StatusOK
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	added := addedClips{Clips: []addedClip{}}
	for _, name := range clips.Example {
		clip, err := s.addShipped(ctx, athlete.ID, name)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		added.Clips = append(added.Clips, clip)
	}
	s.answer(w, r, status, struct {
		Athlete string `json:"athlete"`
		addedClips
	}{athlete.ID, added})
}

// example finds the example athlete, of coaches each their own.
func (s *Server) example(ctx context.Context) (archive.Athlete, bool, error) {
	all, err := s.archive.Athletes(ctx)
	if err != nil {
		return archive.Athlete{}, false, err
	}
	for _, a := range all {
		if a.Example && a.Coach == archive.CoachOf(ctx) {
			return a, true, nil
		}
	}
	return archive.Athlete{}, false, nil
}

// addShipped puts a clip that comes with the program into the archive.
func (s *Server) addShipped(ctx context.Context, athleteID, name string) (addedClip, error) {
	f, err := clips.FS.Open(name)
	if err != nil {
		return addedClip{}, fmt.Errorf("reading a clip that comes with the program: %w", err)
	}
	defer f.Close()
	info, track, err := tracks.Of(strings.TrimSuffix(name, ".mp4"))
	if err != nil {
		return addedClip{}, err
	}
	fields := given.Clip{Athlete: athleteID, Date: s.now().Format(time.DateOnly)}
	added, err := s.desk.AddTracked(ctx, f, name, fields, info, track)
	return viewOfAdded(added), err
}

// handleNoExample removes every example athlete and all that belongs to it.
func (s *Server) handleNoExample(w http.ResponseWriter, r *http.Request) {
	var all deletedView
	for {
		a, found, err := s.example(r.Context())
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if !found {
			break
		}
		gone, err := s.deleteAthlete(r.Context(), a.ID)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		all.Athlete = gone.Athlete
		all.Visits, all.Clips, all.Results = all.Visits+gone.Visits, all.Clips+gone.Clips, all.Results+gone.Results
		all.Comparisons, all.Files, all.Bytes = all.Comparisons+gone.Comparisons, all.Files+gone.Files, all.Bytes+gone.Bytes
	}
	s.answer(w, r, http.StatusOK, all)
}
