// Package notice is what the sums have to say: a code and its parameters, never a sentence.
// The sentence of a code is in the catalogue of the package words, in as many languages as
// there are.
package notice

// Params are the parameters of a code by name, which ends in the unit where there is one:
// numbers, text, lists of either, or what [Notice.Plain] makes of another notice. The name n
// is the number that decides between singular and plural, form the one that chooses between
// the sentences of a code that has several.
type Params = map[string]any

// Notice is something the reader of the numbers must know.
type Notice struct {
	// Code does not change between versions.
	Code   string `json:"code"`
	Params Params `json:"params,omitempty"`
	// Message is the sentence in results of before, which held no parameters.
	Message string `json:"message,omitempty"`
	// Clip names the clip in a document about several; the caller sets it.
	Clip string `json:"clip,omitempty"`
}

// New returns the notice of a code.
func New(code string, params Params) Notice { return Notice{Code: code, Params: params} }

// List returns a list of one notice.
func List(code string, params Params) []Notice { return []Notice{New(code, params)} }

// IsZero says whether there is nothing to say.
func (n Notice) IsZero() bool { return n.Code == "" && n.Message == "" }

// Plain returns the notice as a parameter of another one.
func (n Notice) Plain() Params {
	out := Params{"code": n.Code}
	if len(n.Params) > 0 {
		out["params"] = n.Params
	}
	if n.Message != "" {
		out["message"] = n.Message
	}
	return out
}
