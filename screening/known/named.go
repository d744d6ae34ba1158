package known

import (
	"errors"
	"iter"
	"maps"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"holdfast/kinematics/body"
)

// Named are values that the documents hold by name, such as [body.ByJoint].
type Named interface{ Named() iter.Seq2[string, any] }

// WriteNamed writes them, without those of the arm where they are not known.
func WriteNamed(e *jsontext.Encoder, v Named) error {
	err := e.WriteToken(jsontext.BeginObject)
	for name, value := range v.Named() {
		if body.MayLack(name) && !In(value) {
			continue
		}
		if err = errors.Join(err, e.WriteToken(jsontext.String(name))); err != nil {
			return err
		}
		if err := jsonv2.MarshalEncode(e, value); err != nil {
			return err
		}
	}
	return errors.Join(err, e.WriteToken(jsontext.EndObject))
}

// ReadNamed reads them; those of the arm that are not there are not known.
func ReadNamed(d *jsontext.Decoder, v Named) error {
	if d.PeekKind() != '{' {
		return d.SkipValue()
	}
	if _, err := d.ReadToken(); err != nil {
		return err
	}
	of := maps.Collect(v.Named())
	for d.PeekKind() == '"' {
		name, err := d.ReadToken()
		if err != nil {
			return err
		}
		value, has := of[name.String()]
		delete(of, name.String())
		if !has {
			err = d.SkipValue()
		} else {
			err = jsonv2.UnmarshalDecode(d, value)
		}
		if err != nil {
			return err
		}
	}
	for name, value := range of {
		if body.MayLack(name) {
			Forget(value)
		}
	}
	_, err := d.ReadToken()
	return err
}
