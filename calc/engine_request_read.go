package calc

import (
	"encoding/json"

	"thoud/calc/plainjson"
)

// DecodeRequest reads a request as AppendJSON writes it, or as json.Unmarshal takes it.
func DecodeRequest(b []byte) (req Request, err error) {
	r := plainjson.Read(b)
	if req = readRequest(r); r.Done() {
		return req, nil
	}
	req = Request{}
	err = json.Unmarshal(b, &req)
	return req, err
}

func readRequest(r *plainjson.Reader) (req Request) {
	r.Begin()
	plainjson.Text(r, "method", &req.Method)
	if r.Field("inputs") {
		req.Inputs = plainjson.Table(r, readVal)
	}
	plainjson.Text(r, "kind", &req.Kind)
	if r.Field("limits") {
		req.Limits = plainjson.Table(r, readLimit)
	}
	r.Number("guard", &req.Guard)
	r.Number("level", &req.Level)
	if r.Field("words") {
		req.Words = plainjson.Table(r, (*plainjson.Reader).String)
	}
	plainjson.Text(r, "told", &req.Told)
	r.Truth("gauge_only", &req.GaugeOnly)
	r.Number("digits", &req.Digits)
	r.Texts("common", &req.Common)
	r.End()
	return req
}

func readVal(r *plainjson.Reader) (v Val) {
	r.Begin()
	if r.Field("num") {
		n := readNum(r)
		v.Num = &n
	}
	if r.Field("list") {
		v.List = readRow(r)
	}
	if r.Field("grid") {
		v.Grid = plainjson.Each(r, readRow)
	}
	if r.Field("cube") {
		v.Cube = plainjson.Each(r, func(r *plainjson.Reader) [][]Num { return plainjson.Each(r, readRow) })
	}
	plainjson.Text(r, "text", &v.Text)
	r.Texts("texts", &v.Texts)
	if r.Field("flag") {
		is := r.Flag()
		v.Flag = &is
	}
	if r.Field("rec") {
		v.Rec = readRec(r)
	}
	if r.Field("recs") {
		v.Recs = plainjson.Each(r, readRec)
	}
	r.End()
	return v
}

func readRec(r *plainjson.Reader) map[string]Val { return plainjson.Table(r, readVal) }

func readRow(r *plainjson.Reader) []Num {
	if r.Null() {
		return nil
	}
	return plainjson.Each(r, readNum)
}

func readNum(r *plainjson.Reader) (n Num) {
	r.Begin()
	r.Number("x", &n.X)
	if r.Field("us") {
		n.Us = plainjson.Each(r, readComponent)
	}
	r.End()
	return n
}
