package screening

import (
	"bytes"
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"strconv"

	jsonv2 "github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	jsonv1 "github.com/go-json-experiment/json/v1"

	"holdfast/kinematics"
	"holdfast/kinematics/events"
	"holdfast/kinematics/stats"
	"holdfast/screening/known"
)

// The documents of this package are made of the types that the sums themselves use. What
// JSON wants otherwise than memory has it is said here, once for all of them:
//
//   - A number is written with at most four decimals, and as null when it is NaN: a missing
//     value is NaN everywhere in the program.
//   - Values by angle or joint are an object, without those of the arm where they are not known.
//   - An estimate has its 95 % interval beside it.
//   - A notice is a code with its parameters; a sentence of before is kept as it was.
//   - Corrections are what a coach's hand did and are kept to the last digit.
//
// All else is as encoding/json does it; a nil slice is null.
var (
	marshalers = jsonv2.JoinMarshalers(
		jsonv2.MarshalToFunc(writeNumber),
		jsonv2.MarshalToFunc(known.WriteNamed),
		jsonv2.MarshalToFunc(func(e *jsontext.Encoder, x stats.Estimate) error {
			// The interval is that of what is written, so that a document that was read
			// is written as it was.
			x = stats.Estimate{Value: rounded(x.Value), SD: rounded(x.SD)}
			return jsonv2.MarshalEncode(e, estimate{x.Value, x.SD, x.Interval95()})
		}),
		jsonv2.MarshalToFunc(func(e *jsontext.Encoder, c Corrections) error {
			doc, err := json.Marshal(c)
			if err != nil {
				return err
			}
			return e.WriteValue(doc)
		}),
	)
	writing = jsonv2.JoinOptions(jsonv1.DefaultOptionsV1(), jsontext.EscapeForHTML(false),
		jsonv2.WithMarshalers(marshalers))
	// telling is writing with the sentence of each notice in it, for those who show a document
	// and know no catalogue.
	telling = jsonv2.JoinOptions(writing, jsonv2.WithMarshalers(jsonv2.JoinMarshalers(
		jsonv2.MarshalToFunc(func(e *jsontext.Encoder, n kinematics.Notice) error {
			return jsonv2.MarshalEncode(e, told{n.Code, Say(n)})
		}), marshalers)))
	reading = jsonv2.JoinOptions(jsonv1.DefaultOptionsV1(), jsonv2.WithUnmarshalers(jsonv2.JoinUnmarshalers(
		jsonv2.UnmarshalFromFunc(readNumber),
		jsonv2.UnmarshalFromFunc(known.ReadNamed),
		jsonv2.UnmarshalFromFunc(func(d *jsontext.Decoder, x *stats.Estimate) error {
			var written estimate
			err := jsonv2.UnmarshalDecode(d, &written)
			x.Value, x.SD = written.Value, written.SD
			return err
		}),
		jsonv2.UnmarshalFromFunc(readNotice),
		jsonv2.UnmarshalFromFunc(func(d *jsontext.Decoder, c *Corrections) error {
			doc, err := d.ReadValue()
			if err != nil {
				return err
			}
			return json.Unmarshal(doc, c)
		}),
	)))
)

// estimate is how an estimate is written. The interval follows from the rest and is not
// read.
type estimate struct {
	Value      float64    `json:"value"`
	SD         float64    `json:"sd"`
	Interval95 [2]float64 `json:"interval95"`
}

// told is a notice with its sentence.
type told struct {
	Code    string `json:"code"`
	Message string `json:"message"`
}

// readNotice reads a notice; in results of before some are a sentence alone.
func readNotice(d *jsontext.Decoder, n *kinematics.Notice) error {
	if d.PeekKind() == '"' {
		return jsonv2.UnmarshalDecode(d, &n.Message)
	}
	type plain kinematics.Notice
	return jsonv2.UnmarshalDecode(d, (*plain)(n))
}

// rounded returns a number as documents hold it.
func rounded(x float64) float64 { return math.Round(x*1e4) / 1e4 }

func writeNumber(e *jsontext.Encoder, x float64) error {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return e.WriteToken(jsontext.Null)
	}
	x = rounded(x)
	if x == 0 {
		x = 0 // no negative zero
	}
	return e.WriteValue(strconv.AppendFloat(e.AvailableBuffer(), x, 'f', -1, 64))
}

func readNumber(d *jsontext.Decoder, x *float64) error {
	doc, err := d.ReadValue()
	switch {
	case err != nil:
		return err
	case doc.Kind() == 'n':
		*x = math.NaN()
		return nil
	}
	return json.Unmarshal(doc, x)
}

// The methods below let encoding/json, wherever it is called, write and read a whole
// document by these rules. A document without its methods is a plain one.
type (
	plainAnalysis   Analysis
	plainComparison Comparison
)

// EncodeJSON returns any value as JSON by the rules that hold for the documents.
func EncodeJSON(document any) ([]byte, error) {
	var b bytes.Buffer
	err := jsonv2.MarshalWrite(&b, document, writing)
	return b.Bytes(), err
}

// EncodeTold is [EncodeJSON] with the sentence of each notice in place of its parameters. What
// else is said of the document stands in its field said; nil: nothing.
func EncodeTold(document, said any) ([]byte, error) {
	switch d := document.(type) {
	case *Analysis:
		document = (*plainAnalysis)(d)
	case *Comparison:
		document = (*plainComparison)(d)
	case interface{ Plain() any }: // a document of a package above this one
		document = d.Plain()
	}
	doc, err := jsonv2.Marshal(document, telling)
	if err != nil || said == nil {
		return doc, err
	}
	field, err := EncodeJSON(said)
	return slices.Concat(doc[:len(doc)-1], []byte(`,"said":`), field, []byte("}")), err
}

// DecodeJSON reads what [EncodeJSON] wrote.
func DecodeJSON(doc []byte, document any) error { return jsonv2.Unmarshal(doc, document, reading) }

// MarshalJSON implements json.Marshaler.
func (a Analysis) MarshalJSON() ([]byte, error) { return EncodeJSON((*plainAnalysis)(&a)) }

// UnmarshalJSON implements json.Unmarshaler.
func (a *Analysis) UnmarshalJSON(doc []byte) error {
	err := DecodeJSON(doc, (*plainAnalysis)(a))
	switch a.Schema {
	case AnalysisSchema, repsAnalysisSchema, sideAnalysisSchema, movelessAnalysisSchema, driftlessAnalysisSchema:
		return err
	}
	a.LoadKg = math.NaN()   // an older document does not know of loads,
	for i := range a.Reps { // and says of the whole clip whether there is a zero
		for k := range a.Reps[i].Angles {
			a.Reps[i].Angles[k].ZeroKnown = a.Series.StandFound
		}
	}
	return err
}

// MarshalJSON implements json.Marshaler.
func (c Comparison) MarshalJSON() ([]byte, error) { return EncodeJSON((*plainComparison)(&c)) }

// UnmarshalJSON implements json.Unmarshaler.
func (c *Comparison) UnmarshalJSON(doc []byte) error {
	err := DecodeJSON(doc, (*plainComparison)(c))
	for i := range c.Sides {
		c.Sides[i].Tempo = cmp.Or(c.Sides[i].Tempo, events.Tempo(c.Tempo))
	}
	switch c.Schema {
	case ComparisonSchema, oneTempoComparisonSchema, sideComparisonSchema, slowAloneComparisonSchema,
		movelessComparisonSchema:
		return err
	}
	jumps := c.Tempo == string(events.TempoJump)
	doubts := c.Schema == "holdfast/comparison/5"
	for i := range c.Pairs { // a document before that does not doubt it
		for j := range c.Pairs[i].Joints {
			ch := &c.Pairs[i].Joints[j]
			ch.BaselineZeroKnown, ch.ChallengeZeroKnown = !doubts || ch.BaselineZeroKnown, !doubts || ch.ChallengeZeroKnown
		}
	}
	for i := range c.Ladder.Rungs {
		for k := range c.Ladder.Rungs[i].Cells {
			cell := &c.Ladder.Rungs[i].Cells[k]
			cell.ZeroKnown = !doubts || cell.ZeroKnown
			cell.Landing = jumps || cell.Condition == string(events.TempoJump)
		}
	}
	c.Conclude()
	return err
}
