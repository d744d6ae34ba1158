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

// Instead returns an error of a kind that says error.CODE of the catalogue, with parameters, and not the words of the
// kind: "the folder data is not empty".
func Instead(kind error, code string, params Params) error { return &instead{kind, code, params} }

type instead struct {
	kind   error
	code   string
	params Params
}

func (i *instead) Error() string { return Say("error."+i.code, i.params) }

func (i *instead) Unwrap() error { return i.kind }

// Doing puts what was being done, which is error.CODE of the catalogue, before an error: "adding an athlete: the
// disk is full". It returns nil where there is none.
func Doing(code string, err error) error {
	if err == nil {
		return nil
	}
	return &doing{code, err}
}

type doing struct {
	code string
	err  error
}

func (d *doing) Error() string {
	return Say("error.doing", Params{"doing": Say("error."+d.code, nil), "error": d.err.Error()})
}

func (d *doing) Unwrap() error { return d.err }
