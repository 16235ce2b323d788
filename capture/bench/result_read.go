package bench

import (
	"encoding/json"

	"thoud/calc"
	"thoud/calc/plainjson"
)

// DecodeResult reads a result as it is stored, but for what was asked: that lies elsewhere, or in older results within, and is
// given as it is written there.
func DecodeResult(b []byte) (res Result, asked []byte, err error) {
	if res, ok := resultPlain(b); ok {
		return res, nil, nil
	}
	var w struct {
		Result
		Request json.RawMessage `json:"request"` // hides the result's own: it is not decoded
	}
	err = json.Unmarshal(b, &w)
	return w.Result, w.Request, err
}

// resultPlain reads a result without a request as it is written; false for any other text, of which encoding/json says what it
// is.
func resultPlain(b []byte) (Result, bool) {
	var res Result
	r := plainjson.Read(b)
	r.Begin()
	plainjson.Text(r, "build", &res.Build)
	plainjson.Text(r, "step", &res.Step)
	plainjson.Whole(r, "pass", &res.Pass)
	plainjson.Text(r, "key", &res.Key)
	r.Place("n", &res.N)
	r.Count("at", &res.At)
	r.Truth("provisional", &res.Provisional)
	r.Texts("readings", &res.Readings)
	plainjson.Whole(r, "rules", &res.Rules)
	res.Result.Read(r)
	if r.Field("band") {
		res.Band = readBand(r)
	}
	plainjson.Text(r, "because", &res.Because)
	if r.Field("was") {
		var was calc.Result
		r.Begin()
		was.Read(r)
		r.End()
		res.Was = &was
	}
	r.End()
	return res, r.Done()
}

func readBand(r *plainjson.Reader) *Band {
	var b Band
	r.Begin()
	plainjson.Text(r, "point", &b.Point)
	plainjson.Text(r, "figure", &b.Figure)
	r.MaybeNumber("lower", &b.Lower)
	r.MaybeNumber("upper", &b.Upper)
	r.Number("target", &b.Target)
	r.MaybeNumber("now", &b.Now)
	r.End()
	return &b
}
