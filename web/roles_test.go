package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"holdfast/archive"
	"holdfast/archive/users"
	"holdfast/desk"
	"holdfast/desk/given"
	"holdfast/desk/upload"
	"holdfast/web/pages"
)

// roles are who may ask for something: nobody who has logged in, a coach of other athletes, the athlete's own coach,
// and an admin.
var roles = []string{"nobody", "other", "own", "admin"}

// house is a page that asks for names, with an athlete of one coach who has a clip, a comparison and a job.
type house struct {
	*bench
	cookies map[string]string // by role
	athlete archive.Athlete
	ids     map[string]string // by kind of thing
}

// userPassword is that of every user of a test.
const userPassword = "correct horse"

// newHouse makes a house on an idle desk: its jobs wait. change may set options before.
func newHouse(t *testing.T, change func(*Options)) *house {
	t.Helper()
	h := &house{cookies: map[string]string{}, ids: map[string]string{}}
	h.bench = newIdleBench(t, func(o *Options) {
		o.Named = true
		if change != nil {
			change(o)
		}
	})
	t.Cleanup(func() { h.cookie = "" })
	for _, role := range roles[1:] {
		as := users.Coach
		if role == "admin" {
			as = users.Admin
		}
		if _, err := h.s.archive.Users().Add(t.Context(), role, as, userPassword); err != nil {
			t.Fatal(err)
		}
		h.logIn(role)
	}
	h.fill()
	return h
}

// logIn logs a role in, as the user of that name.
func (h *house) logIn(role string) {
	h.t.Helper()
	w := h.send("POST", "/api/login", strings.NewReader(fmt.Sprintf(`{"name":%q,"password":%q}`, role, userPassword)), nil)
	cookies := w.Result().Cookies()
	if w.Code != 200 || len(cookies) != 1 {
		h.t.Fatalf("logging %s in: %d %s", role, w.Code, w.Body)
	}
	h.cookies[role] = cookies[0].Name + "=" + cookies[0].Value
}

// as sends a request as a role.
func (h *house) as(role, method, path, body string) *httptest.ResponseRecorder {
	h.t.Helper()
	h.cookie = h.cookies[role]
	var r io.Reader
	if body != "" {
		r = strings.NewReader(body)
	}
	return h.send(method, path, r, nil)
}

func (h *house) must(err error) {
	h.t.Helper()
	if err != nil {
		h.t.Fatal(err)
	}
}

// fill makes the athlete of the own coach anew, with all that routes ask for.
func (h *house) fill() {
	h.t.Helper()
	ctx, a := h.t.Context(), h.s.archive
	own, err := a.Users().Find(ctx, "own")
	h.must(err)
	ctx = archive.ForCoach(ctx, own.ID)
	h.athlete, err = a.CreateAthlete(ctx, archive.Athlete{Name: "Sam Example"})
	h.must(err)
	visit, err := a.VisitFor(ctx, archive.Visit{AthleteID: h.athlete.ID, Date: "2025-05-02", Condition: archive.Fresh})
	h.must(err)
	var clips []string
	for i := range 2 {
		put, err := a.Put(ctx, strings.NewReader(movie(fmt.Sprint(h.athlete.ID, i))), 1e6)
		h.must(err)
		c, _, err := a.AddClip(ctx, archive.Clip{AthleteID: h.athlete.ID, VisitID: visit.ID, Name: "slow.mp4",
			SHA256: put.SHA256})
		h.must(err)
		clips = append(clips, c.ID)
	}
	doc, err := a.Put(ctx, strings.NewReader("{}"), 100)
	h.must(err)
	doc.Name = desk.ComparisonFile
	comparison, err := a.SaveComparison(ctx, h.athlete.ID, clips, []archive.File{doc})
	h.must(err)
	job, err := a.AddJob(ctx, archive.Job{ClipID: clips[1], Kind: archive.JobAnalyze}, nil)
	h.must(err)
	_ = h.s.intake.Abandon(ctx, h.ids["upload"]) // the one of before, where it is left
	begun, err := h.s.intake.Begin(ctx, upload.About{Name: "fast.mp4", Size: 1000,
		Clip: given.Clip{Athlete: h.athlete.ID}})
	h.must(err)
	h.ids = map[string]string{"athlete": h.athlete.ID, "visit": visit.ID, "clip": clips[0], "second": clips[1],
		"comparison": comparison.ID, "job": job.ID, "upload": begun.ID}
}

// asked is a route with what is sent to it, and the status that each role gets, in their order.
type asked struct {
	route string
	body  string // with ATHLETE, VISIT, CLIP and so on for ids
	want  [4]int
}

// everyRoute names every route, in the order of their table.
var everyRoute = []asked{
	{"GET /{$}", "", [4]int{401, 200, 200, 200}},
	{"GET /recent", "", [4]int{401, 200, 200, 200}},
	{"GET /athletes", "", [4]int{401, 200, 200, 200}},
	{"GET /athletes/{id}", "", [4]int{401, 404, 200, 200}},
	{"GET /clips/{id}", "", [4]int{401, 404, 200, 200}},
	{"GET /compare", "", [4]int{401, 200, 200, 200}},
	{"GET /comparisons/{id}", "", [4]int{401, 404, 200, 200}},
	{"GET /about", "", [4]int{401, 200, 200, 200}},
	{"GET /assets/{hash}/{name...}", "", [4]int{200, 200, 200, 200}},

	{"GET /status", "", [4]int{401, 403, 403, 200}},
	{"GET /metrics", "", [4]int{401, 403, 403, 200}},
	{"GET /healthz", "", [4]int{200, 200, 200, 200}},
	{"GET /readyz", "", [4]int{200, 200, 200, 200}},

	{"GET /login", "", [4]int{200, 303, 303, 303}},
	{"POST /login", "", [4]int{303, 303, 303, 303}},
	{"POST /api/login", `{"name":"own","password":"correct horse"}`, [4]int{200, 200, 200, 200}},
	{"POST /api/logout", "", [4]int{401, 200, 200, 200}},
	{"GET /qr.svg", "", [4]int{401, 404, 404, 404}}, // this page is not shared
	{"GET /api/address", "", [4]int{401, 200, 200, 200}},

	{"POST /api/clips", "athlete=ATHLETE", [4]int{401, 404, 201, 201}},
	{"POST /api/uploads", `{"name":"a.mp4","size":9,"athlete":"ATHLETE"}`, [4]int{401, 404, 201, 201}},
	{"GET /api/uploads/{id}", "", [4]int{401, 404, 200, 200}},
	{"PATCH /api/uploads/{id}", "", [4]int{401, 404, 200, 200}},
	{"DELETE /api/uploads/{id}", "", [4]int{401, 404, 200, 200}},

	{"GET /api/jobs", "", [4]int{401, 200, 200, 200}},
	{"GET /api/events", "", [4]int{401, 200, 200, 200}},
	{"POST /api/jobs/{id}/cancel", "", [4]int{401, 404, 200, 200}},
	{"POST /api/jobs/{id}/retry", "", [4]int{401, 404, 409, 409}}, // it has not ended

	{"GET /api/athletes", "", [4]int{401, 200, 200, 200}},
	{"POST /api/athletes", `{"name":"Robin Vale"}`, [4]int{401, 201, 201, 201}},
	{"GET /api/athletes/{id}", "", [4]int{401, 404, 200, 200}},
	{"PATCH /api/athletes/{id}", `{"notes":"seen"}`, [4]int{401, 404, 200, 200}},
	{"DELETE /api/athletes/{id}", "", [4]int{401, 404, 200, 200}},
	{"GET /api/athletes/{id}/history", "", [4]int{401, 404, 200, 200}},
	{"GET /api/athletes/{id}/export", "", [4]int{401, 404, 200, 200}},
	{"PATCH /api/visits/{id}", `{"notes":"seen"}`, [4]int{401, 404, 200, 200}},
	{"DELETE /api/visits/{id}", "", [4]int{401, 404, 200, 200}},
	{"POST /api/example", "", [4]int{401, 201, 201, 201}},
	{"DELETE /api/example", "", [4]int{401, 200, 200, 200}},

	{"GET /api/clips/{id}", "", [4]int{401, 404, 200, 200}},
	{"PATCH /api/clips/{id}", `{"name":"seen.mp4"}`, [4]int{401, 404, 200, 200}},
	{"DELETE /api/clips/{id}", "", [4]int{401, 404, 200, 200}},
	{"GET /api/clips/{id}/analysis", "", [4]int{401, 404, 409, 409}}, // it is not measured yet, and so on
	{"GET /api/clips/{id}/frames", "", [4]int{401, 404, 409, 409}},
	{"POST /api/clips/{id}/measure", "", [4]int{401, 404, 202, 202}},
	{"POST /api/clips/{id}/corrections", `{"vertical_deg":2}`, [4]int{401, 404, 409, 409}},
	{"POST /api/clips/{id}/corrections/undo", "", [4]int{401, 404, 409, 409}},
	{"POST /api/clips/{id}/corrections/redo", "", [4]int{401, 404, 409, 409}},
	{"GET /api/clips/{id}/marks", "", [4]int{401, 404, 200, 200}},
	{"PUT /api/clips/{id}/marks", `{"marks":[]}`, [4]int{401, 404, 409, 409}},
	{"POST /api/clips/{id}/join", `{"with":"SECOND"}`, [4]int{401, 404, 409, 409}},
	{"DELETE /api/clips/{id}/join", "", [4]int{401, 404, 404, 404}},
	{"POST /api/clips/{id}/render", "", [4]int{401, 404, 409, 409}},
	{"GET /clips/{id}/video", "", [4]int{401, 404, 409, 409}},
	{"GET /clips/{id}/files/{name...}", "", [4]int{401, 404, 409, 409}},
	{"GET /clips/{id}/measures.csv", "", [4]int{401, 404, 409, 409}},
	{"GET /comparisons/{id}/measures.csv", "", [4]int{401, 404, 409, 409}},
	{"GET /athletes/{id}/measures.csv", "", [4]int{401, 404, 200, 200}},

	{"POST /api/comparisons", `{"clips":["CLIP","SECOND"]}`, [4]int{401, 404, 409, 409}},
	{"GET /api/comparisons/{id}", "", [4]int{401, 404, 409, 409}},
	{"DELETE /api/comparisons/{id}", "", [4]int{401, 404, 200, 200}},
	{"POST /api/comparisons/{id}/files/{name}", "", [4]int{401, 404, 404, 404}}, // no such report
	{"GET /comparisons/{id}/files/{name...}", "", [4]int{401, 404, 409, 409}},

	{"/api/", "", [4]int{401, 404, 404, 404}},
	{"/", "", [4]int{401, 404, 404, 404}},
}

// kindOf is the kind of thing that a route's {id} names.
func kindOf(path string) string {
	for _, kind := range []string{"athlete", "visit", "clip", "comparison", "job", "upload"} {
		if strings.Contains(path, "/"+kind+"s/{id}") {
			return kind
		}
	}
	return ""
}

// ask sends what a route wants as a role.
func (h *house) ask(role string, r route, body string) int {
	h.t.Helper()
	id := h.ids[kindOf(r.path)]
	for kind, id := range h.ids {
		body = strings.ReplaceAll(body, strings.ToUpper(kind), id)
	}
	method := r.method
	if method == "" {
		method = "GET"
	}
	path := strings.NewReplacer("{id}", id, "{$}", "", "{hash}", pages.AssetVersion(), "{name...}", "css/tokens.css",
		"{name}", "none").Replace(r.path)
	if path == "/" && r.path == "/" {
		path = "/none"
	}
	h.cookie = h.cookies[role]
	var from io.Reader
	if body != "" {
		from = strings.NewReader(body)
	}
	var kind string
	switch {
	case r.path == "/api/clips":
		from, kind = form([]string{body}, "fast.mp4="+movie(fmt.Sprint(role, h.athlete.ID)))
	case r.path == "/login" && method == "POST":
		from, kind = strings.NewReader("name=own&password=wrong"), "application/x-www-form-urlencoded"
	}
	set := func(req *http.Request) {
		if kind != "" {
			req.Header.Set("Content-Type", kind)
		}
		if strings.HasPrefix(r.path, "/api/uploads/") {
			req.Header.Set("Upload-Offset", "0")
		}
	}
	if r.path == "/api/events" {
		return h.stream(path)
	}
	return h.send(method, path, from, set).Code
}

// stream asks for what does not end, and goes away.
func (h *house) stream(path string) int {
	req := httptest.NewRequest("GET", path, nil)
	req.Host = testHost
	req.Header.Set("Cookie", h.cookie)
	w := &leaving{ResponseRecorder: httptest.NewRecorder()}
	ctx, leave := context.WithCancel(req.Context())
	w.leave = leave
	h.s.Handler().ServeHTTP(w, req.WithContext(ctx))
	return w.Code
}

// Every route is asked for by every role: what is another coach's is not there, whatever the way to it. A route that is
// added has to be named here.
func TestEveryRouteAsEveryRole(t *testing.T) {
	named := []string{}
	for _, a := range everyRoute {
		named = append(named, a.route)
	}
	in := []string{}
	for _, r := range routes {
		in = append(in, r.pattern())
		if strings.Contains(r.path, "{id}") && r.act == unnoted && !strings.HasPrefix(r.path, "/api/uploads/") {
			t.Errorf("%s leaves no note of who did it", r.pattern())
		}
	}
	if !slices.Equal(named, in) {
		t.Fatalf("asked for are\n%s\nthe routes are\n%s", strings.Join(named, "\n"), strings.Join(in, "\n"))
	}
	h := newHouse(t, nil)
	for _, a := range everyRoute {
		for i, role := range roles {
			if got := h.ask(role, routesBy[a.route], a.body); got != a.want[i] {
				t.Errorf("%s as %s: %d, want %d", a.route, role, got, a.want[i])
			}
			if strings.Contains(a.route, "logout") && role != "nobody" {
				h.cookie = ""
				h.logIn(role)
			}
			if _, err := h.s.archive.Clip(t.Context(), h.ids["clip"]); err != nil || strings.Contains(a.route, "/uploads/") ||
				strings.Contains(a.route, "/visits/") || strings.Contains(a.route, "comparisons") ||
				strings.Contains(a.route, "/cancel") {
				h.fill()
			}
		}
	}
}

// What a request names in its body, or is told of by lists and streams, is not there for another coach either.
func TestAnotherCoachsThings(t *testing.T) {
	h := newHouse(t, nil)
	var mine struct{ ID string }
	w := h.as("other", "POST", "/api/athletes", `{"name":"Sam Example"}`)
	h.must(json.Unmarshal(w.Body.Bytes(), &mine))
	h.cookie = h.cookies["other"]
	added := h.upload([]string{"athlete_name=sam example"}, "slow.mp4="+movie("of the other's Sam")).Clips[0]
	if c, err := h.s.archive.Clip(t.Context(), added.ID); err != nil || c.AthleteID != mine.ID {
		t.Errorf("a clip by the name of both coaches' athletes is %+v, %v", c, err)
	}
	for name, tt := range map[string]struct{ method, path, body string }{
		"moves a clip to another's athlete": {"PATCH", "/api/clips/" + added.ID, `{"athlete":"` + h.ids["athlete"] + `"}`},
		"moves a clip to another's visit":   {"PATCH", "/api/clips/" + added.ID, `{"visit":"` + h.ids["visit"] + `"}`},
		"compares with another's clip": {"POST", "/api/comparisons",
			`{"clips":["` + h.ids["clip"] + `","` + added.ID + `"]}`},
		"sends to another's visit": {"POST", "/api/uploads",
			`{"name":"a.mp4","size":9,"visit":"` + h.ids["visit"] + `"}`},
	} {
		if w := h.as("other", tt.method, tt.path, tt.body); w.Code != 404 {
			t.Errorf("who %s gets %d %s", name, w.Code, w.Body)
		}
	}
	h.fill()
	for _, path := range []string{"/", "/recent", "/athletes", "/compare", "/compare?athlete=" + h.ids["athlete"],
		"/?athlete=" + h.ids["athlete"], "/api/jobs", "/api/athletes", "/athletes/" + mine.ID} {
		text := h.as("other", "GET", path, "").Body.String()
		for kind, id := range h.ids {
			if strings.Contains(strings.ReplaceAll(text, "?athlete="+id, ""), id) {
				t.Errorf("%s tells another coach of the %s", path, kind)
			}
		}
		if all := h.as("admin", "GET", path, "").Body.String(); strings.HasPrefix(path, "/api/") &&
			!strings.Contains(all, h.ids["athlete"]) {
			t.Errorf("%s does not tell an admin of the athlete", path)
		}
	}
	same := `{"name":"long.mp4","size":9,"last_modified":5,"athlete_name":"New Name"}`
	var first, second, again upload.State
	for _, one := range []struct {
		role string
		to   *upload.State
	}{{"own", &first}, {"other", &second}, {"own", &again}} {
		h.must(json.Unmarshal(h.as(one.role, "POST", "/api/uploads", same).Body.Bytes(), one.to))
	}
	if first.ID == "" || first.ID == second.ID || first.ID != again.ID {
		t.Errorf("the same file of two coaches is sent as %q, %q and %q", first.ID, second.ID, again.ID)
	}
	if w := h.as("own", "DELETE", "/api/athletes/"+h.ids["athlete"], ""); w.Code != 200 {
		t.Errorf("deleting: %d %s", w.Code, w.Body)
	}
	if w := h.as("other", "GET", "/api/uploads/"+second.ID, ""); w.Code != 200 {
		t.Errorf("another coach's upload after a deletion: %d", w.Code)
	}
	// Nor do the streams of pages tell of it.
	h.cookie = h.cookies["other"]
	h.fill()
	for id, want := range map[string]bool{h.ids["clip"]: true, added.ID: false, "gone": false} {
		other, err := h.s.archive.Users().Find(t.Context(), "other")
		h.must(err)
		if got := h.s.othersClip(archive.ForCoach(t.Context(), other.ID), id); got != want {
			t.Errorf("%s is another's: %v", id, got)
		}
	}
}

// Log-ins by name: what a wrong one is told, that a session ends, and that the phone's code lets its user in.
func TestLogInByName(t *testing.T) {
	now := &movedClock{now: time.Date(2026, 5, 2, 12, 0, 0, 0, time.UTC)}
	h := newHouse(t, func(o *Options) { o.Desk.Now, o.Public = now.read, "https://clips.example/" })
	page := h.as("nobody", "GET", "/login", "").Body.String()
	for _, want := range []string{`name="name"`, `name="password"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page to log in has no %s", want)
		}
	}
	try := func(name, password string) *httptest.ResponseRecorder {
		return h.as("nobody", "POST", "/api/login", fmt.Sprintf(`{"name":%q,"password":%q}`, name, password))
	}
	wrong, nobody := try("own", "no such word"), try("Nobody", userPassword)
	if wrong.Code != 401 || nobody.Code != 401 || wrong.Body.String() != nobody.Body.String() {
		t.Errorf("a wrong password is told %s, a wrong name %s", wrong.Body, nobody.Body)
	}
	for range 3 {
		try("own", "no such word")
	}
	if w := try("own", userPassword); w.Code != 429 || w.Header().Get("Retry-After") == "" {
		t.Errorf("after five wrong ones: %d %s", w.Code, w.Body)
	}
	now.add(2 * time.Minute)
	w := h.send("POST", "/login", strings.NewReader("name=OWN&password=correct+horse"), func(r *http.Request) {
		r.Host = "clips.example"
		r.Header.Del("X-Holdfast")
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "https://clips.example")
		r.Header.Set("X-Forwarded-For", "203.0.113.9, 198.51.100.7")
	})
	cookies := w.Result().Cookies()
	if w.Code != 303 || w.Header().Get("Location") != "/" || len(cookies) != 1 || !cookies[0].Secure ||
		!cookies[0].HttpOnly || cookies[0].SameSite != http.SameSiteStrictMode {
		t.Fatalf("by the form, through a proxy: %d %v", w.Code, w.Header())
	}
	h.cookies["own"] = cookies[0].Name + "=" + cookies[0].Value
	if text := h.as("own", "GET", "/about", "").Body.String(); !strings.Contains(text, "logged in as own") {
		t.Error("the page does not say who has logged in")
	}
	user, err := h.s.archive.Users().Find(t.Context(), "own")
	h.must(err)
	w = h.as("nobody", "GET", "/login?token="+h.s.gate.Token(user.ID), "")
	if cookies = w.Result().Cookies(); len(cookies) != 1 {
		t.Fatalf("the phone's code: %d %v", w.Code, w.Header())
	}
	h.cookies["phone"] = cookies[0].Name + "=" + cookies[0].Value
	path := "/api/athletes/" + h.ids["athlete"]
	for _, role := range []string{"own", "phone"} {
		if w := h.as(role, "GET", path, ""); w.Code != 200 {
			t.Errorf("%s: %d", role, w.Code)
		}
	}
	h.as("own", "POST", "/api/logout", "")
	if out, in := h.as("own", "GET", path, ""), h.as("phone", "GET", path, ""); out.Code != 401 || in.Code != 200 {
		t.Errorf("after one logged out: %d, and on the phone %d", out.Code, in.Code)
	}
	token := h.s.gate.Token(user.ID)
	h.must(h.s.archive.Users().Remove(t.Context(), "own"))
	if w := h.as("nobody", "GET", "/login?token="+token, ""); w.Header().Get("Location") != "/login?expired=1" {
		t.Errorf("the code of a user who is gone: %d %v", w.Code, w.Header())
	}
}

// Who saw, took, added, changed and deleted what is written down, once for all parts of a page, and not when it was
// refused.
func TestActsAreNoted(t *testing.T) {
	h := newHouse(t, nil)
	id := h.ids
	for _, do := range []struct{ role, method, path, body string }{
		{"own", "GET", "/clips/" + id["clip"], ""},
		{"own", "GET", "/api/clips/" + id["clip"], ""},
		{"own", "GET", "/clips/" + id["clip"], ""},
		{"other", "GET", "/api/clips/" + id["clip"], ""},
		{"admin", "GET", "/api/athletes/" + id["athlete"] + "/export", ""},
		{"own", "PATCH", "/api/clips/" + id["clip"], `{"name":"seen.mp4"}`},
		{"own", "PATCH", "/api/clips/" + id["clip"], `{"name":"seen.mp4"}`},
		{"other", "POST", "/api/athletes", `{"name":"Robin Vale"}`},
		{"other", "DELETE", "/api/clips/" + id["clip"], ""},
		{"admin", "DELETE", "/api/clips/" + id["clip"], ""},
		{"nobody", "POST", "/api/login", `{"name":"own","password":"no such word"}`},
		{"nobody", "POST", "/api/login", `{"name":"my secret password","password":""}`},
		{"own", "POST", "/api/logout", ""},
	} {
		h.as(do.role, do.method, do.path, do.body)
	}
	acts, err := h.s.archive.Users().Acts(t.Context(), time.Time{}, -1)
	h.must(err)
	slices.Reverse(acts)
	var got bytes.Buffer
	for _, a := range acts {
		if a.What != users.LoggedIn {
			fmt.Fprintln(&got, strings.TrimSpace(strings.Join([]string{a.Who, a.What, a.Kind}, " ")), a.Athlete == h.athlete.ID)
		}
	}
	want := `own saw clip true
admin took athlete true
own changed clip true
own changed clip true
other added athlete false
admin deleted clip true
own refused false
refused false
own logged_out false
`
	if got.String() != want {
		t.Errorf("noted is\n%s\nwant\n%s", got.String(), want)
	}
}

// leaving is who goes away at the first word of an answer.
type leaving struct {
	*httptest.ResponseRecorder
	leave func()
}

func (l *leaving) Write(p []byte) (int, error) {
	l.leave()
	return l.ResponseRecorder.Write(p)
}
