package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// twoEngines is a bench with a build of each of two engines.
func twoEngines(t *testing.T) *play {
	t.Helper()
	p := newPlay(t, curing)
	for job, engine := range map[string]string{"20": "twin no. 4", "21": "trials single"} {
		p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: job, Engine: engine, Plan: "rules", Text: curing}})
	}
	return p
}

func hours(engine string, h, plus float64) bench.Verb {
	return bench.Verb{Name: bench.DoHours, Life: &bench.Life{Engine: engine, Hours: h, Plus: plus}}
}

func fit(engine, mark, what string, life, ran float64) bench.Verb {
	return bench.Verb{Name: bench.DoFit, Life: &bench.Life{Engine: engine, Mark: mark, What: what, Due: life, Ran: ran}}
}

// A part is followed from engine to engine, and runs with each.
func TestAPartIsFollowedFromEngineToEngine(t *testing.T) {
	p := twoEngines(t)
	p.ok(hours("twin no. 4", 10, 0))
	p.ok(fit("twin no. 4", "P14", "left piston", 20, 3))
	p.ok(hours("twin no. 4", 0, 4.5))
	p.ok(bench.Verb{Name: bench.DoPartOut, Life: &bench.Life{Mark: "P14"}, Reason: "for the single"})
	p.ok(hours("twin no. 4", 0, 5)) // without it
	p.ok(fit("trials single", "P14", "piston", 0, 0))
	p.ok(hours("trials single", 2, 0))
	part, _ := p.sc.State.PartOf("P14")
	if got := part.Ran(p.sc.State); got != 3+4.5+2 {
		t.Errorf("it has run %v h, want 9.5", got)
	}
	if len(part.Stints) != 2 || part.Stints[0].Engine != "twin no. 4" || part.Stints[0].To != 14.5 || part.Stints[0].InJob != "20" || part.Stints[1].Out != nil {
		t.Errorf("its stints: %+v", part.Stints)
	}
	due := bench.DueOf(p.sc.State, nil, p.sc.Results, p.sc.Moment())
	if len(due) != 1 || due[0].When != "in 10.5 h of running" || due[0].Engine != "trials single" {
		t.Errorf("due: %+v", due)
	}
	p.ok(hours("trials single", 14, 0))
	if due = bench.DueOf(p.sc.State, nil, p.sc.Results, p.sc.Moment()); !due[0].Now || due[0].When != "now, 1.5 h ago" {
		t.Errorf("past its life: %+v", due)
	}
	if got, ok := p.sc.State.LifeOf("twin no. 4").HoursBy(p.sc.Now); !ok || got != 19.5 {
		t.Errorf("the twin has %v h", got)
	}
}

// What can't be is one sentence, and nothing is recorded.
func TestWhatALifeCantBe(t *testing.T) {
	p := twoEngines(t)
	p.ok(hours("twin no. 4", 10, 0))
	p.ok(fit("twin no. 4", "P14", "left piston", 20, 0))
	n := p.sc.State.N
	for name, c := range map[string]struct {
		verb bench.Verb
		want string
	}{
		"no hours more":           {hours("twin no. 4", 0, 0), `"twin no. 4" had run 10 h already: say how many hours it has run since, as +2`},
		"hours that go down":      {hours("twin no. 4", 9, 0), `"twin no. 4" had run 10 h already; 9 h is less, and hours do not go down: was it another engine? For hours run since then write +9`},
		"an engine nobody has":    {hours("twin no. 5", 9, 0), `did you mean "twin no. 4"?`},
		"no hours":                {hours("twin no. 4", -1, 0), "-1 cannot be hours"},
		"a part in two engines":   {fit("trials single", "P14", "piston", 0, 0), "part P14 (left piston) is in twin no. 4, so that it can't be in trials single too: take it out first (thoud part out P14)"},
		"two parts in one place":  {fit("twin no. 4", "P15", "left piston", 0, 0), "the left piston of twin no. 4 is P14: take it out first"},
		"the same part again":     {fit("twin no. 4", "P14", "", 0, 0), "is in twin no. 4 already"},
		"a part without a name":   {fit("trials single", "P16", "", 0, 0), "say what it is"},
		"a part without a mark":   {fit("trials single", "", "piston", 0, 0), "has a mark on it"},
		"out, and never in":       {bench.Verb{Name: bench.DoPartOut, Life: &bench.Life{Mark: "P1"}}, "is in no engine"},
		"work that never comes":   {bench.Verb{Name: bench.DoRegular, Life: &bench.Life{Engine: "twin no. 4", What: "valve lash"}}, "does not come round"},
		"work without a name":     {bench.Verb{Name: bench.DoRegular, Life: &bench.Life{Engine: "twin no. 4", Due: 5}}, "say what is done"},
		"hours without an engine": {bench.Verb{Name: bench.DoHours, Life: &bench.Life{Hours: 5}}, `say which engine; there are "trials single", "twin no. 4"`},
	} {
		if words := p.no(c.verb); !strings.Contains(words, c.want) {
			t.Errorf("%s: %q, want %q in it", name, words, c.want)
		}
	}
	if p.sc.State.N != n {
		t.Error("something was recorded")
	}
}

// Regular work comes round by the hours of the engine, and again after it was done.
func TestRegularWorkComesRound(t *testing.T) {
	p := twoEngines(t)
	p.ok(hours("twin no. 4", 10, 0))
	lash := func(every float64, choice string) bench.Verb {
		return bench.Verb{Name: bench.DoRegular, Choice: choice, Life: &bench.Life{Engine: "twin no. 4", What: "valve lash", Due: every}}
	}
	next := func() string {
		due := bench.DueOf(p.sc.State, nil, p.sc.Results, p.sc.Moment())
		if len(due) == 0 {
			return "nothing"
		}
		return due[0].What + " " + due[0].When
	}
	p.ok(lash(5, ""))
	p.ok(hours("twin no. 4", 16, 0))
	if got := next(); got != "valve lash now, 1 h ago" {
		t.Errorf("after 6 h: %s", got)
	}
	p.ok(lash(0, ""))
	if got := next(); got != "valve lash in 5 h of running" {
		t.Errorf("done: %s", got)
	}
	p.ok(lash(8, ""))
	if got := next(); got != "valve lash in 8 h of running" {
		t.Errorf("less often: %s", got)
	}
	p.ok(lash(0, bench.WorkNever))
	if got := next(); got != "nothing" {
		t.Errorf("never: %s", got)
	}
}

const heated = head + `
[[step]]
id = "first-start"
title = "First start"
do = "Start it."
phase = "start"
kind = "check"
cures = [{ name = "cooling", time = "8 h", holds = ["retorque"] }]
confirms = [{ id = "ran", text = "It ran warm." }]

[[step]]
id = "retorque"
title = "Head bolts again"
do = "Pull them."
phase = "heat"
kind = "check"
confirms = [{ id = "pulled", text = "They were pulled." }]

[[step]]
id = "lash"
title = "Lash again"
do = "Set it."
phase = "heat"
kind = "check"
confirms = [{ id = "set", text = "It is set." }]
`

// After the first start what waits for the heat is due: what must be cold once it is.
func TestWhatIsDueAfterTheFirstHeat(t *testing.T) {
	p := newPlay(t, heated)
	list := func() string {
		b, _ := p.sc.State.Build("17")
		var out []string
		for _, d := range bench.DueOf(p.sc.State, []*bench.Build{b}, p.sc.Results, p.sc.Moment()) {
			out = append(out, d.What+": "+d.When)
		}
		return strings.Join(out, "; ")
	}
	if got := list(); got != "" {
		t.Errorf("before the first start: %s", got)
	}
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "ran"})
	if got, want := list(), "cooling of First start: 8 h 0 min to go; Lash again: now; Head bolts again: cooling of First start is not over: 8 h 0 min to go"; got != want {
		t.Errorf("after it: %s, want %s", got, want)
	}
	p.sc.Now += 9 * 60 * 60 * micros
	if got, want := list(), "Head bolts again: now; Lash again: now"; got != want {
		t.Errorf("next morning: %s, want %s", got, want)
	}
	p.ok(bench.Verb{Name: bench.DoNext})
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "pulled"})
	if got := list(); got != "Lash again: now" {
		t.Errorf("with the bolts pulled: %s", got)
	}
}
