package bench

import (
	"thoud/calc/plainjson"
	"thoud/calc/quantity"
)

// decodePlain reads an entry of the kinds that a ledger is full of, as they are written; false for any other text, of which
// encoding/json says what it is.
func decodePlain(b []byte) (Entry, bool) {
	var e Entry
	r := plainjson.Read(b)
	r.Begin()
	plainjson.Whole(r, "v", &e.V)
	plainjson.Text(r, "bench", &e.Bench)
	r.Place("n", &e.N)
	plainjson.Text(r, "id", &e.ID)
	plainjson.Text(r, "kind", &e.Kind)
	r.Count("at", &e.At)
	plainjson.Text(r, "boot", &e.Boot)
	r.Count("up", &e.Up)
	r.Truth("clock_ok", &e.ClockOK)
	if r.Field("place") {
		e.Place = readPlace(r)
	}
	plainjson.Text(r, "by", &e.By)
	plainjson.Text(r, "verb", &e.Verb)
	plainjson.Text(r, "prev", &e.Prev)
	if r.Field("build") {
		e.Build = readStarted(r)
	}
	if r.Field("zero") {
		e.Zero = readZero(r)
	}
	if r.Field("reading") {
		e.Reading = readReading(r)
	}
	plainjson.Text(r, "refers", &e.Refers)
	plainjson.Text(r, "reason", &e.Reason)
	if r.Field("drift") {
		var d Drift
		r.Begin()
		quantity.Field(r, "by", &d.By)
		quantity.Field(r, "allowed", &d.Allowed)
		r.End()
		e.Drift = &d
	}
	plainjson.Text(r, "choice", &e.Choice)
	plainjson.Text(r, "item", &e.Item)
	plainjson.Whole(r, "count", &e.Count)
	plainjson.Text(r, "initials", &e.Initials)
	r.End()
	return e, r.Done()
}

func readPlace(r *plainjson.Reader) (p Place) {
	r.Begin()
	plainjson.Text(r, "build", &p.Build)
	plainjson.Text(r, "step", &p.Step)
	plainjson.Whole(r, "pass", &p.Pass)
	plainjson.Text(r, "point", &p.Point)
	plainjson.Whole(r, "seating", &p.Seating)
	r.End()
	return p
}

func readStarted(r *plainjson.Reader) *Started {
	var s Started
	r.Begin()
	plainjson.Text(r, "job", &s.Job)
	plainjson.Text(r, "engine", &s.Engine)
	plainjson.Text(r, "plan", &s.Plan)
	plainjson.Text(r, "text", &s.Text)
	r.End()
	return &s
}

func readZero(r *plainjson.Reader) *Zero {
	var z Zero
	r.Begin()
	plainjson.Text(r, "gauge", &z.Gauge)
	quantity.Field(r, "raw", &z.Raw)
	quantity.Field(r, "shows", &z.Shows)
	plainjson.Text(r, "text", &z.Text)
	r.Blobs("frames", &z.Frames)
	plainjson.Text(r, "device", &z.Device)
	r.End()
	return &z
}

func readReading(r *plainjson.Reader) *Reading {
	var t Reading
	r.Begin()
	plainjson.Text(r, "gauge", &t.Gauge)
	plainjson.Text(r, "channel", &t.Channel)
	plainjson.Text(r, "mode", &t.Mode)
	r.Blobs("frames", &t.Frames)
	plainjson.Text(r, "text", &t.Text)
	plainjson.Text(r, "status", &t.Status)
	quantity.Field(r, "raw", &t.Raw)
	plainjson.Text(r, "zero", &t.Zero)
	quantity.Field(r, "value", &t.Value)
	r.Truth("keyed", &t.Keyed)
	plainjson.Whole(r, "turns", &t.Turns)
	quantity.MaybeField(r, "goes", &t.Goes)
	quantity.MaybeField(r, "stops", &t.Stops)
	if r.Field("samples") {
		t.Samples = readSamples(r)
	}
	r.Truth("rest", &t.Rest)
	r.End()
	return &t
}

func readSamples(r *plainjson.Reader) *Samples {
	var s Samples
	r.Begin()
	r.Counts("at", &s.At)
	r.Counts("value", &s.Value)
	r.Counts("angle", &s.Angle)
	plainjson.Text(r, "unit", &s.Unit)
	plainjson.Whole(r, "places", &s.Places)
	plainjson.Text(r, "ended", &s.Ended)
	plainjson.Text(r, "gaps", &s.Gaps)
	plainjson.Whole(r, "sent", &s.Sent)
	plainjson.Text(r, "angle_gauge", &s.AngleGauge)
	r.Blob("angle_frames", &s.AngleFrames)
	r.Counts("angle_at", &s.AngleAt)
	plainjson.Text(r, "angle_zero", &s.AngleZero)
	r.End()
	return &s
}
