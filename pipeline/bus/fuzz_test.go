package bus

import (
	"context"
	"encoding/json"
	"testing"

	"github.com/nats-io/nats.go"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// midBuild is a bench in the middle of a build, with a gauge that shows something.
func midBuild(f *testing.F) (bench.Scene, bench.Chain) {
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		f.Fatal(err)
	}
	v, err := quantity.Parse("0.1234 in")
	if err != nil {
		f.Fatal(err)
	}
	var chain bench.Chain
	sc := bench.Scene{Now: 5_000_000, Newest: map[string]bench.Sample{"dial-1": {At: 4_900_000, Value: v, Frame: []byte("+0.1234 in\r")}}}
	at := bench.Place{Build: "17", Step: "guide-clearance"}
	for _, e := range []bench.Entry{
		{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Role: "indicator", Known: bench.KnownPath}},
		{Kind: bench.GaugeBack, Link: &bench.Link{Gauge: "dial-1", Port: "/dev/x", Device: "x"}},
		{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Plan: "first-fit", Text: string(text)}},
		{Kind: bench.StepEntered, Place: at},
		{Kind: bench.Acknowledged, Place: at},
	} {
		e.Bench, e.ID = "test", "id-"+string(e.Kind)
		e, body, err := chain.Number(e)
		if err == nil {
			chain, err = chain.Next(e, body)
		}
		if err == nil {
			sc.State, err = bench.Apply(sc.State, e)
		}
		if err != nil {
			f.Fatal(err)
		}
	}
	sc.Committed = chain.N
	return sc, chain
}

// FuzzVerb sends the bench verbs of any name and any bytes, as a client of the socket can: each is answered, and what is
// accepted makes entries that can be written, read again and folded.
func FuzzVerb(f *testing.F) {
	sc, chain := midBuild(f)
	for _, row := range bench.VerbTable() {
		f.Add(row.Name, []byte(`{"id":"01234567","gauge":"dial-1","item":"left.contact","choice":"yes","reason":"because","initials":"AB","value":{"n":1234,"places":4,"unit":"in"},"place":{"build":"17","step":"guide-clearance","point":"left.contact"}}`))
	}
	f.Add("override", []byte(`{"id":"x","override":{"what":"limit","name":"guide-clearance.slack","lower":{"n":-1,"places":99,"unit":"in"}}}`))
	f.Add("gauge-add", []byte(`{"register":{"name":"dial-2","known":"keyed","role":"indicator","sense":-7,"resolution":{"n":9223372036854775807,"places":-5,"unit":"mm"}}}`))
	f.Add("build-start", []byte(`{"build":{"job":"18","plan":"own","text":"title = \"x\""}}`))
	f.Add("nothing", []byte(`{`))
	f.Fuzz(func(t *testing.T, name string, data []byte) {
		if len(data) > 1<<20 {
			return // no message is longer
		}
		m := &nats.Msg{Subject: "thoud.test.do." + name, Data: data}
		answer := doVerb(t.Context(), m, func(_ context.Context, v bench.Verb) bench.Answer {
			d, err := bench.Decide(sc, v)
			if err != nil {
				return bench.Answer{Words: err.Error()}
			}
			st, end := sc.State, chain
			for _, e := range d.Entries {
				e.Bench, e.ID, e.At = "test", "made", sc.Now
				e, body, err := end.Number(e)
				if err != nil {
					return bench.Answer{Words: err.Error()} // told as such by the bench: only a value that is no JSON
				}
				again, err := bench.Decode(body)
				if err != nil {
					t.Fatalf("%s makes an entry that cannot be read: %v\n%s", v.Name, err, body)
				}
				if end, err = end.Next(e, body); err != nil {
					t.Fatal(err)
				}
				if st, err = bench.Apply(st, again); err != nil {
					t.Fatalf("%s makes an entry that means nothing: %v\n%s", v.Name, err, body)
				}
			}
			return bench.Answer{OK: true, Words: d.Words}
		})
		if _, err := json.Marshal(answer); err != nil {
			t.Fatalf("the answer %+v: %v", answer, err)
		}
		if !answer.OK && answer.Words == "" {
			t.Fatalf("%s %q is refused without a word", name, data)
		}
	})
}
