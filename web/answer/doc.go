// Package answer says in HTTP what went wrong: a [Problem] has a status and plain words for the person at the page. It
// also reads what a request sends as JSON, strictly and up to a bound.
package answer
