package bench_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// randomPlan draws a small plan in which most of what a plan can say occurs.
func randomPlan(t *rapid.T) string {
	text := strings.Builder{}
	text.WriteString(head)
	text.WriteString("\n[engine.gap]\ntitle = \"Gap\"\nvalue = \"0.010 in\"\nsource = \"common practice\"\nconfirm = true\n")
	n := rapid.IntRange(1, 4).Draw(t, "steps")
	outs := make([][]string, n)
	for i := range n {
		id := fmt.Sprintf("s%d", i)
		more := ""
		if i > 0 && rapid.Bool().Draw(t, "needs") {
			more += fmt.Sprintf("needs = [\"s%d\"]\n", i-1)
		}
		if rapid.IntRange(0, 3).Draw(t, "cautions") == 0 {
			more += "cautions = [\"Mind your fingers.\"]\n"
		}
		if rapid.IntRange(0, 3).Draw(t, "confirms") == 0 {
			more += "confirms = [{ id = \"clean\", text = \"It is clean.\" }]\n"
		}
		if rapid.IntRange(0, 4).Draw(t, "hold") == 0 {
			more += "hold = true\n"
		}
		if i+2 < n && rapid.IntRange(0, 2).Draw(t, "items") == 0 {
			j := rapid.IntRange(i+1, n-2).Draw(t, "out at")
			outs[j] = append(outs[j], fmt.Sprintf("\"cover-%d\"", i))
			more += fmt.Sprintf("items = [{ name = \"cover-%d\", out_before = \"s%d\", count = 2 }]\n", i, j+1)
		}
		if len(outs[i]) > 0 {
			more += "out = [" + strings.Join(outs[i], ", ") + "]\n"
		}
		if rapid.IntRange(0, 3).Draw(t, "looked at") == 0 {
			if !strings.Contains(more, "confirms") {
				more += "confirms = [{ id = \"clean\", text = \"It is clean.\" }]\n"
			}
			fmt.Fprintf(&text, "\n[[step]]\nid = %q\ntitle = %q\ndo = \"Look.\"\nphase = \"dry\"\nkind = \"check\"\n%s", id, id, more)
			continue
		}
		mode := rapid.SampledFrom([]string{"press", "press", "settle", "highest", "swing", "keyed", "bracket"}).Draw(t, "mode")
		if mode != "keyed" && mode != "bracket" && rapid.Bool().Draw(t, "datum") {
			more += fmt.Sprintf("datum = { do = \"Rest it.\", close = %t, each = %t }\n", rapid.Bool().Draw(t, "close"), rapid.Bool().Draw(t, "each"))
		}
		more += fmt.Sprintf("seatings = %d\n", rapid.IntRange(1, 2).Draw(t, "seatings"))
		points := ""
		for _, side := range []string{"left", "right"}[:rapid.IntRange(1, 2).Draw(t, "points")] {
			extra := ""
			if rapid.IntRange(0, 3).Draw(t, "own role") == 0 {
				extra = "role = \"bore\"\n"
			}
			if rapid.IntRange(0, 3).Draw(t, "range") == 0 {
				extra += "least = \"0.1 in\"\nmost = \"0.3 in\"\n"
			}
			points += pointText(side, extra)
		}
		text.WriteString(stepText(id, fmt.Sprintf("{ mode = %q, role = \"indicator\" }", mode), more, points))
		if rapid.Bool().Draw(t, "computed") {
			values := `"@readings:*"`
			text.WriteString("[step.compute]\nmethod = \"statistics\"\nper = \"pass\"\n[step.compute.inputs]\nvalues = [" + values + "]\n[step.compute.limits]\ngreatest = { upper = \"@engine.gap\" }\n")
		}
	}
	return text.String()
}

var drawnValues = []string{"0.0000 in", "0.1000 in", "0.2000 in", "0.2001 in", "0.9000 in", "5.08 mm"}

// randomVerb draws a verb with arguments that may or may not fit the scene.
func randomVerb(t *rapid.T, sc bench.Scene) bench.Verb {
	v := bench.Verb{Name: rapid.SampledFrom(bench.VerbTable()).Draw(t, "verb").Name}
	v.Gauge = rapid.SampledFrom([]string{"", "", "dial-1", "bore-1", "nobody"}).Draw(t, "gauge")
	v.Reason = rapid.SampledFrom([]string{"", "because"}).Draw(t, "reason")
	v.Initials = rapid.SampledFrom([]string{"", "AB"}).Draw(t, "initials")
	a, _ := quantity.Parse(rapid.SampledFrom(drawnValues).Draw(t, "value"))
	b, _ := quantity.Parse(rapid.SampledFrom(drawnValues).Draw(t, "stops"))
	if v.Name == bench.DoKey || v.Name == bench.DoZero && rapid.Bool().Draw(t, "shows") {
		v.Value = &a
	}
	v.Goes, v.Stops = &a, &b
	job, steps := "17", []string{"", "s0", "s1", "s2", "s3"}
	if rapid.IntRange(0, 2).Draw(t, "place") == 0 || v.Name == bench.DoGoto {
		v.Place = &bench.Place{Build: rapid.SampledFrom([]string{"", job}).Draw(t, "job"), Step: rapid.SampledFrom(steps).Draw(t, "step"),
			Point: rapid.SampledFrom([]string{"", "", "left", "right"}).Draw(t, "point")}
	}
	items := []string{"", "all", "clean", "engine.gap", "cover-0", "cover-1", "cover-2"}
	if bd, step := sc.State.Current(); step != nil && v.Name == bench.DoAnswer {
		for _, q := range bd.Step(step.ID).Questions {
			items = append(items, q.ID)
			v.Choice = rapid.SampledFrom(q.Choices).Draw(t, "choice")
		}
	}
	v.Item = rapid.SampledFrom(items).Draw(t, "item")
	v.Override = &bench.Override{What: rapid.SampledFrom([]string{"verdict", "needs", "hold", "tally", "engine"}).Draw(t, "what"),
		Name: rapid.SampledFrom([]string{"s0", "s1", "gap", "cover-0"}).Draw(t, "name"), Value: &a}
	v.Check = &bench.Check{Gauge: v.Gauge}
	v.Picture = &bench.Picture{Bytes: []byte{1}}
	g := dial(rapid.SampledFrom([]string{"dial-1", "dial-9"}).Draw(t, "register"), "indicator")
	v.Register = &g
	v.Build = &bench.Started{Job: rapid.SampledFrom([]string{"17", "18"}).Draw(t, "start"), Plan: "rules", Text: head + stepText("s0", `{ mode = "press", role = "indicator" }`, "", pointText("left", ""))}
	return v
}

// A verb is offered if, and only if, some argument drawn from the scene is accepted; what is offered is accepted; and a
// reading lands at the point that was shown.
func TestWhatIsOfferedIsWhatIsAccepted(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := randomPlan(rt)
		p := newPlay(t, text, dial("dial-1", "indicator"), dial("bore-1", "bore"))
		for range rapid.IntRange(1, 25).Draw(rt, "moves") {
			sc := &p.sc
			sc.Now += 100_000
			for _, g := range []string{"dial-1", "bore-1"} {
				if rapid.IntRange(0, 5).Draw(rt, "speaks") > 0 {
					p.shows(g, rapid.SampledFrom(drawnValues).Draw(rt, "shown"))
				}
			}
			if sc.Sweep != nil {
				for range 3 {
					p.shows(sc.Sweep.Gauge, rapid.SampledFrom(drawnValues[:5]).Draw(rt, "swept"))
					sc.Sweep.Add(sc.Sweep.Gauge, sc.Newest[sc.Sweep.Gauge])
				}
			}
			offers := bench.Offers(*sc)
			spot := bench.SpotOf(*sc)
			for _, o := range offers {
				if len(o.Gives) > 0 {
					continue // what a person gives with it is not in the offer
				}
				if _, err := bench.Decide(*sc, o.Verb); err != nil {
					rt.Fatalf("%s is offered and refused: %v\nat %s\n%s", o.Verb.Name, err, sc.State.Place, text)
				}
			}
			v := randomVerb(rt, *sc)
			if rapid.IntRange(0, 2).Draw(rt, "as offered") == 0 {
				v = rapid.SampledFrom(offers).Draw(rt, "offer").Verb
			}
			d, err := p.do(v)
			if err == nil {
				if _, ok := bench.Offered(offers, v.Name); !ok {
					rt.Fatalf("%+v is accepted and was not offered\nat %s\n%s", v, sc.State.Place, text)
				}
			}
			for _, e := range d.Entries {
				if err == nil && e.Kind == bench.ReadingTaken && v.Name != bench.DoAnswer && v.Name != bench.DoZero && e.Place != spot.Place {
					rt.Fatalf("the reading lies at %s, shown was %s\n%s", e.Place, spot.Place, text)
				}
			}
		}
	})
}
