package view

import (
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// TestEntriesAreToldInWords tells entries by the titles of the plan, not by the ids in it.
func TestEntriesAreToldInWords(t *testing.T) {
	p := play(t, "title = \"Own\"\nversion = 1\ncylinders = [\"left\"]\n[engine.gap]\ntitle = \"Gap of the ring\"\nvalue = \"0.010 in\"\nsource = \"common practice\"\nconfirm = true\n"+`
[[step]]
id = "look"
title = "Looked over"
do = "Look."
phase = "dry"
kind = "check"
confirms = [{ id = "clips", text = "The clips are home." }]
`)
	at := bench.Place{Build: "17", Step: "look", Pass: 2, Point: "left.gap"}
	for _, row := range []struct {
		e    bench.Entry
		want string
	}{
		{bench.Entry{Kind: bench.Confirmed, Place: at, Item: "clips"}, "The clips are home"},
		{bench.Entry{Kind: bench.Confirmed, Place: at, Item: "engine.gap"}, "Gap of the ring, 0.010 in"},
		{bench.Entry{Kind: bench.Overridden, Place: at, Reason: "worn", Override: &bench.Override{What: "engine", Name: "gap"}}, "Gap of the ring changed: worn"},
		{bench.Entry{Kind: bench.Overridden, Place: at, Reason: "for today", Override: &bench.Override{What: "verdict", Name: "look"}}, "gone on in spite of the verdict of “Looked over”: for today"},
	} {
		if got := Says(p.state, row.e); got.Inch != row.want {
			t.Errorf("%s says %q, want %q", row.e.Kind, got.Inch, row.want)
		}
	}
	// Entries of the shop: which values were kept, which part, which work.
	gap, err := quantity.Parse("0.012 in")
	if err != nil {
		t.Fatal(err)
	}
	bore, err := quantity.Parse("71 mm")
	if err != nil {
		t.Fatal(err)
	}
	values := []bench.EngineValue{{Name: "gap", Value: &gap}, {Name: "bore", Value: &bore}, {Name: "screw", Word: "M6"}}
	for _, row := range []struct {
		e    bench.Entry
		want string
	}{
		{bench.Entry{Kind: bench.EngineValues, Engine: &bench.EngineSet{Engine: "twin-1", Job: "17", Values: values[:1]}}, "twin-1: Gap of the ring 0.012 in"},
		{bench.Entry{Kind: bench.EngineValues, Engine: &bench.EngineSet{Engine: "twin-1", Job: "17", Values: append(values, values...)}}, "twin-1: Gap of the ring 0.012 in, bore 71 mm, screw M6 and 3 more"},
		{bench.Entry{Kind: bench.EngineValues, Reason: "found worn", Engine: &bench.EngineSet{Engine: "twin-1", From: "twin-0", Values: []bench.EngineValue{{Name: "bore", Gone: true}}}}, "twin-1, copied from twin-0: bore taken out · found worn"},
		{bench.Entry{Kind: bench.PartFitted, Life: &bench.Life{Engine: "twin-1", What: "piston", Mark: "A1", Hours: 5}}, "twin-1 · piston · A1 · at 5 h"},
		{bench.Entry{Kind: bench.RulesNamed, Rules: &bench.RulesInForce{Program: "1.2"}}, "by thoud 1.2"},
	} {
		if got := Says(p.state, row.e); got.Inch != row.want {
			t.Errorf("%s says %q, want %q", row.e.Kind, got.Inch, row.want)
		}
	}
	if got, want := Where(p.state, at), "job 17, Looked over, pass 2, left gap"; got != want {
		t.Errorf("where: %q, want %q", got, want)
	}
	if got := Happened(bench.ZeroLost); got != "zero lost" {
		t.Errorf("happened: %q", got)
	}
}
