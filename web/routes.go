package web

import (
	"net/http"

	"holdfast/archive/users"
	"holdfast/web/answer"
	"holdfast/web/noted"
)

// route is an address of the page or of its API.
type route struct {
	method  string // empty: any that no other route takes
	path    string
	handler func(*Server, http.ResponseWriter, *http.Request)
	needs   need
	// act is what is written down of it, where users log in by name.
	act noted.Act
}

// saw, took, added, changed and deleted are acts on a kind of thing, that of the route's {id}.
func saw(kind string) noted.Act     { return noted.Act{What: users.Saw, Kind: kind} }
func took(kind string) noted.Act    { return noted.Act{What: users.Took, Kind: kind} }
func added(kind string) noted.Act   { return noted.Act{What: users.Added, Kind: kind} }
func changed(kind string) noted.Act { return noted.Act{What: users.Changed, Kind: kind} }
func deleted(kind string) noted.Act { return noted.Act{What: users.Deleted, Kind: kind} }

// unnoted is what needs no note: it shows no one thing, or is a part of what is noted.
var unnoted noted.Act

func (r route) pattern() string {
	if r.method == "" {
		return r.path
	}
	return r.method + " " + r.path
}

// need is what a request must bring. What changes something brings the header
// X-Holdfast: 1 besides, which other sites cannot send.
type need int

const (
	needsSession need = iota // that the password was given, where there is one
	needsAdmin               // that one who may see all has logged in, where users do by name
	needsNothing             // it is part of logging in
	needsForm                // nothing, not even the header: a browser without script sends it
)

// routes are all there are. One that reads (GET) writes nothing, but for the log-in by the
// phone's code and, where users log in by name, the note of who looked.
var routes = []route{
	{"GET", "/{$}", (*Server).homePage, needsSession, unnoted},
	{"GET", "/recent", (*Server).recentPart, needsSession, unnoted},
	{"GET", "/athletes", (*Server).athletesPage, needsSession, unnoted},
	{"GET", "/athletes/{id}", (*Server).athletePage, needsSession, saw("athlete")},
	{"GET", "/clips/{id}", (*Server).clipPage, needsSession, saw("clip")},
	{"GET", "/compare", (*Server).comparePage, needsSession, unnoted},
	{"GET", "/comparisons/{id}", (*Server).comparisonPage, needsSession, saw("comparison")},
	{"GET", "/about", (*Server).aboutPage, needsSession, unnoted},
	{"GET", "/assets/{hash}/{name...}", (*Server).sendAsset, needsNothing, unnoted},

	{"GET", "/status", (*Server).statusPage, needsAdmin, unnoted},
	{"GET", "/metrics", (*Server).handleMetrics, needsAdmin, unnoted},
	{"GET", "/healthz", (*Server).handleHealthy, needsNothing, unnoted},
	{"GET", "/readyz", (*Server).handleReady, needsNothing, unnoted},

	{"GET", "/login", (*Server).loginPage, needsNothing, unnoted},
	{"POST", "/login", (*Server).handleLoginForm, needsForm, unnoted},
	{"POST", "/api/login", (*Server).handleLogin, needsNothing, unnoted},
	{"POST", "/api/logout", (*Server).handleLogout, needsSession, unnoted},
	{"GET", "/qr.svg", (*Server).handleQR, needsSession, unnoted},
	{"GET", "/api/address", (*Server).handleAddress, needsSession, unnoted},

	{"POST", "/api/clips", (*Server).handleUpload, needsSession, added("clip")},
	{"POST", "/api/uploads", (*Server).handleBegin, needsSession, unnoted},
	{"GET", "/api/uploads/{id}", (*Server).handleOffset, needsSession, unnoted},
	{"PATCH", "/api/uploads/{id}", (*Server).handlePiece, needsSession, added("clip")},
	{"DELETE", "/api/uploads/{id}", (*Server).handleAbandon, needsSession, deleted("upload")},

	{"GET", "/api/jobs", (*Server).handleJobs, needsSession, unnoted},
	{"GET", "/api/events", (*Server).handleEvents, needsSession, unnoted},
	{"POST", "/api/jobs/{id}/cancel", (*Server).handleCancel, needsSession, changed("job")},
	{"POST", "/api/jobs/{id}/retry", (*Server).handleRetry, needsSession, changed("job")},

	{"GET", "/api/athletes", (*Server).handleAthletes, needsSession, unnoted},
	{"POST", "/api/athletes", (*Server).handleNewAthlete, needsSession, added("athlete")},
	{"GET", "/api/athletes/{id}", (*Server).handleAthlete, needsSession, saw("athlete")},
	{"PATCH", "/api/athletes/{id}", (*Server).handleChangeAthlete, needsSession, changed("athlete")},
	{"DELETE", "/api/athletes/{id}", (*Server).handleDeleteAthlete, needsSession, deleted("athlete")},
	{"GET", "/api/athletes/{id}/history", (*Server).handleHistory, needsSession, saw("athlete")},
	{"GET", "/api/athletes/{id}/export", (*Server).handleExport, needsSession, took("athlete")},
	{"PATCH", "/api/visits/{id}", (*Server).handleChangeVisit, needsSession, changed("visit")},
	{"DELETE", "/api/visits/{id}", (*Server).handleDeleteVisit, needsSession, deleted("visit")},
	{"POST", "/api/example", (*Server).handleExample, needsSession, added("athlete")},
	{"DELETE", "/api/example", (*Server).handleNoExample, needsSession, deleted("athlete")},

	{"GET", "/api/clips/{id}", (*Server).handleClip, needsSession, saw("clip")},
	{"PATCH", "/api/clips/{id}", (*Server).handleChangeClip, needsSession, changed("clip")},
	{"DELETE", "/api/clips/{id}", (*Server).handleDeleteClip, needsSession, deleted("clip")},
	{"GET", "/api/clips/{id}/analysis", (*Server).handleAnalysis, needsSession, saw("clip")},
	{"GET", "/api/clips/{id}/frames", (*Server).handleFrames, needsSession, saw("clip")},
	{"POST", "/api/clips/{id}/measure", (*Server).handleMeasure, needsSession, changed("clip")},
	{"POST", "/api/clips/{id}/corrections", (*Server).handleCorrect, needsSession, changed("clip")},
	{"POST", "/api/clips/{id}/corrections/undo", (*Server).handleUndo, needsSession, changed("clip")},
	{"POST", "/api/clips/{id}/corrections/redo", (*Server).handleRedo, needsSession, changed("clip")},
	{"GET", "/api/clips/{id}/marks", (*Server).handleMarks, needsSession, saw("clip")},
	{"PUT", "/api/clips/{id}/marks", (*Server).handleSetMarks, needsSession, changed("clip")},
	{"POST", "/api/clips/{id}/join", (*Server).handleJoin, needsSession, changed("clip")},
	{"DELETE", "/api/clips/{id}/join", (*Server).handlePart, needsSession, changed("clip")},
	{"POST", "/api/clips/{id}/render", (*Server).handleRender, needsSession, changed("clip")},
	{"GET", "/clips/{id}/video", (*Server).handleVideo, needsSession, saw("clip")},
	{"GET", "/clips/{id}/files/{name...}", (*Server).handleClipFile, needsSession, took("clip")},
	{"GET", "/clips/{id}/measures.csv", (*Server).handleClipMeasures, needsSession, took("clip")},
	{"GET", "/comparisons/{id}/measures.csv", (*Server).handleComparisonMeasures, needsSession, took("comparison")},
	{"GET", "/athletes/{id}/measures.csv", (*Server).handleAthleteMeasures, needsSession, took("athlete")},

	{"POST", "/api/comparisons", (*Server).handleCompare, needsSession, added("comparison")},
	{"GET", "/api/comparisons/{id}", (*Server).handleComparison, needsSession, saw("comparison")},
	{"DELETE", "/api/comparisons/{id}", (*Server).handleDeleteComparison, needsSession, deleted("comparison")},
	{"POST", "/api/comparisons/{id}/files/{name}", (*Server).handleMakeReport, needsSession, changed("comparison")},
	{"GET", "/comparisons/{id}/files/{name...}", (*Server).handleComparisonFile, needsSession, took("comparison")},

	{"", "/api/", (*Server).handleNoRoute, needsSession, unnoted},
	{"", "/", (*Server).handleNoPage, needsSession, unnoted},
}

// routesBy are the routes by their pattern.
var routesBy = func() map[string]route {
	by := make(map[string]route, len(routes))
	for _, r := range routes {
		by[r.pattern()] = r
	}
	return by
}()

// mux returns what finds the route of a request.
func (s *Server) mux() *http.ServeMux {
	mux := http.NewServeMux()
	for _, one := range routes {
		mux.HandleFunc(one.pattern(), func(w http.ResponseWriter, r *http.Request) {
			answer := func(w http.ResponseWriter, r *http.Request) { one.handler(s, w, r) }
			if !s.gate.Named() || one.act == unnoted {
				answer(w, r)
			} else if err := s.book.Around(w, r, userOf(r).Name, one.act, answer); err != nil {
				s.fail(w, r, err)
			}
		})
	}
	return mux
}

// needsOf returns what a request must bring.
func needsOf(mux *http.ServeMux, r *http.Request) need {
	_, pattern := mux.Handler(r)
	return routesBy[pattern].needs
}

// handleNoRoute answers what no route of the API takes.
func (s *Server) handleNoRoute(w http.ResponseWriter, r *http.Request) {
	s.fail(w, r, answer.Trouble(http.StatusNotFound, "no_such_address", 0))
}

func (s *Server) handleMetrics(w http.ResponseWriter, r *http.Request) { s.Vitals.Metrics(w, r) }
func (s *Server) handleHealthy(w http.ResponseWriter, r *http.Request) { s.Vitals.Healthy(w, r) }
func (s *Server) handleReady(w http.ResponseWriter, r *http.Request)   { s.Vitals.Ready(w, r) }

func (s *Server) handleNoPage(w http.ResponseWriter, r *http.Request) {
	s.fail(w, r, answer.NotFound("page"))
}
