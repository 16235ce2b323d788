package view

import (
	"testing"

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
	if got, want := Where(p.state, at), "job 17, Looked over, pass 2, left gap"; got != want {
		t.Errorf("where: %q, want %q", got, want)
	}
	if got := Happened(bench.ZeroLost); got != "zero lost" {
		t.Errorf("happened: %q", got)
	}
}
