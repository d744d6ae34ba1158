package web

import (
	"net/http"

	"holdfast/web/answer"
)

// route is an address of the page or of its API.
type route struct {
	method  string // empty: any that no other route takes
	path    string
	handler func(*Server, http.ResponseWriter, *http.Request)
	needs   need
}

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
	needsNothing             // it is part of logging in
	needsForm                // nothing, not even the header: a browser without script sends it
)

// routes are all there are. One that reads (GET) writes nothing, but for the log-in by the
// phone's code.
var routes = []route{
	{"GET", "/{$}", (*Server).homePage, needsSession},
	{"GET", "/recent", (*Server).recentPart, needsSession},
	{"GET", "/athletes", (*Server).athletesPage, needsSession},
	{"GET", "/athletes/{id}", (*Server).athletePage, needsSession},
	{"GET", "/clips/{id}", (*Server).clipPage, needsSession},
	{"GET", "/compare", (*Server).comparePage, needsSession},
	{"GET", "/comparisons/{id}", (*Server).comparisonPage, needsSession},
	{"GET", "/about", (*Server).aboutPage, needsSession},
	{"GET", "/assets/{hash}/{name...}", (*Server).sendAsset, needsNothing},

	{"GET", "/login", (*Server).loginPage, needsNothing},
	{"POST", "/login", (*Server).handleLoginForm, needsForm},
	{"POST", "/api/login", (*Server).handleLogin, needsNothing},
	{"POST", "/api/logout", (*Server).handleLogout, needsSession},
	{"GET", "/qr.svg", (*Server).handleQR, needsSession},
	{"GET", "/api/address", (*Server).handleAddress, needsSession},

	{"POST", "/api/clips", (*Server).handleUpload, needsSession},
	{"POST", "/api/uploads", (*Server).handleBegin, needsSession},
	{"GET", "/api/uploads/{id}", (*Server).handleOffset, needsSession},
	{"PATCH", "/api/uploads/{id}", (*Server).handlePiece, needsSession},
	{"DELETE", "/api/uploads/{id}", (*Server).handleAbandon, needsSession},

	{"GET", "/api/jobs", (*Server).handleJobs, needsSession},
	{"GET", "/api/events", (*Server).handleEvents, needsSession},
	{"POST", "/api/jobs/{id}/cancel", (*Server).handleCancel, needsSession},
	{"POST", "/api/jobs/{id}/retry", (*Server).handleRetry, needsSession},

	{"GET", "/api/athletes", (*Server).handleAthletes, needsSession},
	{"POST", "/api/athletes", (*Server).handleNewAthlete, needsSession},
	{"GET", "/api/athletes/{id}", (*Server).handleAthlete, needsSession},
	{"PATCH", "/api/athletes/{id}", (*Server).handleChangeAthlete, needsSession},
	{"DELETE", "/api/athletes/{id}", (*Server).handleDeleteAthlete, needsSession},
	{"GET", "/api/athletes/{id}/history", (*Server).handleHistory, needsSession},
	{"GET", "/api/athletes/{id}/export", (*Server).handleExport, needsSession},
	{"PATCH", "/api/visits/{id}", (*Server).handleChangeVisit, needsSession},
	{"DELETE", "/api/visits/{id}", (*Server).handleDeleteVisit, needsSession},
	{"POST", "/api/example", (*Server).handleExample, needsSession},
	{"DELETE", "/api/example", (*Server).handleNoExample, needsSession},

	{"GET", "/api/clips/{id}", (*Server).handleClip, needsSession},
	{"PATCH", "/api/clips/{id}", (*Server).handleChangeClip, needsSession},
	{"DELETE", "/api/clips/{id}", (*Server).handleDeleteClip, needsSession},
	{"GET", "/api/clips/{id}/analysis", (*Server).handleAnalysis, needsSession},
	{"GET", "/api/clips/{id}/frames", (*Server).handleFrames, needsSession},
	{"POST", "/api/clips/{id}/measure", (*Server).handleMeasure, needsSession},
	{"POST", "/api/clips/{id}/corrections", (*Server).handleCorrect, needsSession},
	{"POST", "/api/clips/{id}/corrections/undo", (*Server).handleUndo, needsSession},
	{"POST", "/api/clips/{id}/corrections/redo", (*Server).handleRedo, needsSession},
	{"GET", "/api/clips/{id}/marks", (*Server).handleMarks, needsSession},
	{"PUT", "/api/clips/{id}/marks", (*Server).handleSetMarks, needsSession},
	{"POST", "/api/clips/{id}/render", (*Server).handleRender, needsSession},
	{"GET", "/clips/{id}/video", (*Server).handleVideo, needsSession},
	{"GET", "/clips/{id}/files/{name...}", (*Server).handleClipFile, needsSession},
	{"GET", "/clips/{id}/measures.csv", (*Server).handleClipMeasures, needsSession},
	{"GET", "/comparisons/{id}/measures.csv", (*Server).handleComparisonMeasures, needsSession},
	{"GET", "/athletes/{id}/measures.csv", (*Server).handleAthleteMeasures, needsSession},

	{"POST", "/api/comparisons", (*Server).handleCompare, needsSession},
	{"GET", "/api/comparisons/{id}", (*Server).handleComparison, needsSession},
	{"DELETE", "/api/comparisons/{id}", (*Server).handleDeleteComparison, needsSession},
	{"POST", "/api/comparisons/{id}/files/{name}", (*Server).handleMakeReport, needsSession},
	{"GET", "/comparisons/{id}/files/{name...}", (*Server).handleComparisonFile, needsSession},

	{"", "/api/", (*Server).handleNoRoute, needsSession},
	{"", "/", (*Server).handleNoPage, needsSession},
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
		mux.HandleFunc(one.pattern(), func(w http.ResponseWriter, r *http.Request) { one.handler(s, w, r) })
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

func (s *Server) handleNoPage(w http.ResponseWriter, r *http.Request) {
	s.fail(w, r, answer.NotFound("page"))
}
