package capture

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// What a verb cannot do is refused in words that say why, and leaves no entry.
func TestVerbsRefused(t *testing.T) {
	inRig(t, rigPlan("press", datum, ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.5000 in")
		n := r.loop.State().N
		for _, c := range []struct {
			v    bench.Verb
			want string
		}{
			{bench.Verb{Name: "juggle"}, `the bench knows no "juggle"`},
			{bench.Verb{Name: bench.DoTake, Gauge: "dial-9"}, `no gauge "dial-9" is registered: thoud gauge list shows what is`},
			{bench.Verb{Name: bench.DoRetake}, "there is no reading in height to take back"},
			{bench.Verb{Name: bench.DoVoid, Reason: "slipped"}, "there is no pass to make void"},
			{bench.Verb{Name: bench.DoNext}, "this is the last step: sign it and close the build"},
			{bench.Verb{Name: bench.DoAnswer, Choice: bench.AsRead}, "nothing is asked"},
			{bench.Verb{Name: bench.DoSign, Initials: "ab"}, "Heights is not done"},
			{bench.Verb{Name: bench.DoSign}, "a step is signed with initials"},
			{bench.Verb{Name: bench.DoReopen, Reason: "again"}, "Heights is not signed"},
			{bench.Verb{Name: bench.DoConfirm, Item: "all"}, "nothing is left to confirm in Heights"},
			{bench.Verb{Name: bench.DoSweep}, "nothing is swept at this point: take its reading"},
			{bench.Verb{Name: bench.DoKey}, "a typed reading wants a value and a unit"},
			{bench.Verb{Name: bench.DoBracket, Goes: mustParse(t, "0.010 in"), Stops: mustParse(t, "0.009 in")}, "the blade that goes (0.010 in) must be thinner than the one that does not (0.009 in)"},
			{bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "nowhere"}}, `no step "nowhere" in the plan of job 17: it has height`},
			{bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "height", Point: "nowhere"}}, `no point "nowhere" in step height`},
			{bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "18"}}, `no build "18"`},
			{bench.Verb{Name: bench.DoOverride, Override: &bench.Override{What: "limit", Name: "height.x"}}, "an override wants a reason: it is kept and printed"},
			{bench.Verb{Name: bench.DoOverride, Reason: "so", Override: &bench.Override{What: "colour", Name: "x"}}, `"colour" cannot be overridden`},
			{bench.Verb{Name: bench.DoTallyIn, Item: "rag"}, `"rag" does not go in at Heights`},
			{bench.Verb{Name: bench.DoTallyOut, Item: "rag"}, `"rag" is not in the engine`},
			{bench.Verb{Name: bench.DoFound}, "nothing is missing"},
			{bench.Verb{Name: bench.DoDropped}, "say what was dropped"},
			{bench.Verb{Name: bench.DoPhoto}, "a photo wants a picture of at most 512 kB"},
			{bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17"}}, "job 17 was started before"},
			{bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "Nr. 1"}}, "a build wants a job number of a-z, 0-9 and -"},
			{bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "dial-1", Role: "indicator"}}, `a gauge "dial-1" is registered already`},
			{bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "dial-2", Profile: "none", Role: "indicator", Port: "/dev/x"}}, `there is no profile "none"`},
			{bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "dial-8", Role: "boregauge"}}, `gauge "dial-8": "boregauge" is no gauge role; did you mean "bore"?`},
			{bench.Verb{Name: bench.DoGaugeRemove, Gauge: "dial-9"}, `no gauge "dial-9" is registered`},
			{bench.Verb{Name: bench.DoUse, Gauge: "dial-9"}, `no gauge "dial-9" is registered`},
		} {
			if got := r.no(c.v); !strings.Contains(got, c.want) {
				t.Errorf("%s: %q, want %q in it", c.v.Name, got, c.want)
			}
		}
		if got := r.loop.State().N; got != n {
			t.Errorf("refused verbs left %d entries", got-n)
		}
	})
}

// A verb is done once under its id, and never at a place its sender did not see.
func TestAVerbIsDoneOnceWhereItsSenderStood(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.5000 in")
		seen := r.loop.State().Place
		v := bench.Verb{ID: "once", Name: bench.DoTake, Seen: &seen}
		first := r.ok(v)
		if second := r.ok(v); second.N != first.N || second.Words != first.Words {
			t.Errorf("asked again: %+v, want the first answer %+v", second, first)
		}
		if err := r.stop(); err != nil {
			t.Fatal(err)
		}
		r.start()
		r.shows("+0.5000 in")
		if again := r.ok(v); again.N != first.N {
			t.Errorf("after a restart: entry %d, want %d", again.N, first.N)
		}
		late := r.ask(bench.Verb{Name: bench.DoTake, Seen: &seen})
		if late.OK || !late.Moved || !strings.Contains(late.Words, "the bench has moved on: it stands at job 17, height, pass 1, right.a now") {
			t.Errorf("from a page that is behind: %+v", late)
		}
		if got := len(r.pass().Readings); got != 1 {
			t.Errorf("%d readings, want 1", got)
		}
		// Asking for something that means no place is done wherever the bench stands.
		r.ok(bench.Verb{Name: bench.DoUse, Gauge: "dial-1", Seen: &seen})
	})
}
