package words

// Error is a kind of error that callers branch on. Its text is error.CODE of the catalogue, in the
// language that is spoken when it is read.
type Error string

func (e Error) Error() string { return Say("error."+string(e), nil) }

// Because returns an error of a kind with its reason, which is error.CODE of the catalogue with
// parameters: "the clip cannot be read: it is a folder".
func Because(kind error, code string, params Params) error { return &because{kind, code, params} }

type because struct {
	kind   error
	code   string
	params Params
}

func (b *because) Error() string {
	return Say("error.because", Params{"kind": b.kind.Error(), "why": Say("error."+b.code, b.params)})
}

func (b *because) Unwrap() error { return b.kind }
