package view

import (
	"slices"
	"strings"
	"testing"

	"thoud/calc/drawing"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// TestDrawingsThereAre holds every drawing that the tables name against the drawings that there are.
func TestDrawingsThereAre(t *testing.T) {
	for table, rows := range map[string]map[string]string{"byStep": byStep, "byMethod": byMethod, "byView": byView} {
		for of, name := range rows {
			if _, ok := drawing.Find(name); !ok {
				t.Errorf("%s in drawing.go names the drawing %q for %s: there is none", table, name, of)
			}
		}
	}
}

// TestEveryStepOfThePlansHasItsDrawing goes to every point of every step of the plans that ship: each is drawn. That
// a point is lit stands in the tests of the drawings.
func TestEveryStepOfThePlansHasItsDrawing(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		text, err := plan.ShippedText(name)
		if err != nil {
			t.Fatal(err)
		}
		p := play(t, string(text))
		b, _ := p.state.Build("17")
		for _, step := range b.Plan.Steps {
			points := []string{""}
			for _, pt := range step.Points {
				points = append(points, pt.ID)
			}
			drawn := drawingOf(b.Plan, step, points[len(points)-1])
			if drawn == "" {
				if len(step.Points) > 0 && (slices.Equal(b.Plan.Cylinders, []string{"left", "right"}) || len(drawing.For(step.ID)) == 0) {
					t.Errorf("plan %s, step %s has no drawing: give it one in byStep or byMethod in drawing.go", name, step.ID)
				}
				continue
			}
			for _, point := range points[:min(len(points), 12)] {
				w := work{sc: bench.Scene{State: p.state}, b: b, step: step, at: step, st: b.Step(step.ID), v: &View{}, sp: bench.Spot{Place: bench.Place{Point: point}}}
				w.lookAtDrawing()
				if w.v.Scene == nil {
					t.Errorf("plan %s, step %s, point %q: drawing %s refuses", name, step.ID, point, drawn)
				}
			}
		}
	}
}

// TestNoDrawingIsOfAnotherEngine goes to every point of every step of the plans that are no parallel twin with a block for each
// cylinder: no drawing shows a left and a right one, or two bores among the bolts.
func TestNoDrawingIsOfAnotherEngine(t *testing.T) {
	for _, name := range []string{"single-trial", "pushrod-v", "pushrod-two-shafts"} {
		text, err := plan.ShippedText(name)
		if err != nil {
			t.Fatal(err)
		}
		p := play(t, string(text))
		b, _ := p.state.Build("17")
		twin := slices.Equal(b.Plan.Cylinders, []string{"left", "right"})
		for _, step := range b.Plan.Steps {
			points := []string{""}
			for _, pt := range step.Points {
				points = append(points, pt.ID)
			}
			for _, point := range points {
				w := work{sc: bench.Scene{State: p.state}, b: b, step: step, at: step, st: b.Step(step.ID), v: &View{}, sp: bench.Spot{Place: bench.Place{Point: point}}}
				w.lookAtDrawing()
				if w.v.Scene == nil {
					continue
				}
				for _, part := range w.v.Scene.Parts {
					shown := string(part.SVG)
					if strings.Contains(shown, ">L</text>") || strings.Contains(shown, ">R</text>") || !twin && (strings.HasSuffix(part.Name, "left cylinder") || part.Name == "plate" && strings.Contains(shown, "hidden")) {
						t.Errorf("plan %s, step %s, point %q: the drawing is a twin's: %s", name, step.ID, point, part.Name)
					}
				}
			}
		}
	}
}

// TestDrawingShowsTheOrder draws a block that is to be moved: the arrow of the move, and the value that was read.
func TestDrawingShowsTheOrder(t *testing.T) {
	p := play(t, planOf(sweptStep))
	at := bench.Place{Build: "17", Step: "swept", Pass: 1}
	p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "swept"}})
	p.add(bench.Entry{Kind: bench.PassOpened, Place: at})
	at.Point, at.Seating = "left", 1
	p.read("dial-1", at)
	b, step := p.state.Current()
	own := *step
	own.ID = "guide-clearance"
	w := work{sc: bench.Scene{State: p.state}, b: b, step: own, at: own, st: b.Step(step.ID), sp: bench.Spot{Place: at},
		v: &View{Rows: []Row{{First: true, Point: "left", Move: "away"}}}}
	w.lookAtDrawing()
	var strokes string
	var parts []string
	for _, part := range w.v.Scene.Parts {
		strokes, parts = strokes+string(part.SVG), append(parts, part.Name)
	}
	if !strings.Contains(strokes, `<g class="inch"><text`) || !strings.Contains(strokes, "1.0000 in") || !strings.Contains(strokes, "25.400 mm") {
		t.Errorf("the value that was read, 1.0000 in and 25.400 mm, does not stand in both")
	}
	if n := strings.Count(strokes, "<path"); strings.Count(strokes, `class="mm"`) > 2 || n == 0 {
		t.Errorf("more is drawn twice than the figures that differ: %d strokes in all", n)
	}
	if !slices.Contains(parts, "move") {
		t.Error("the arrow of the move is missing")
	}
}

// TestBaseBoltsAreDrawnOnTheBase: the drawing of bolts shows what they hold.
func TestBaseBoltsAreDrawnOnTheBase(t *testing.T) {
	row, _ := drawing.Find("bolts")
	for id, want := range map[string]string{"base-bolts": "base", "head-bolts": "head", "retorque": ""} {
		if got := choices(row, plan.Step{ID: id})["part"]; got != want {
			t.Errorf("step %s: %q, want %q", id, got, want)
		}
	}
}

// TestTheTopByEyeIsDrawnWithItsStop: where the top is found by a stop, the stop is drawn; so too where it comes out again.
func TestTheTopByEyeIsDrawnWithItsStop(t *testing.T) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Parse("twin", []byte(strings.Replace(string(text), `value = "encoder"`, `value = "eye"`, 1)))
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"tdc", "tdc-proof", "stop-away"} {
		step, ok := p.Step(id)
		if !ok {
			t.Fatalf("no step %s by eye", id)
		}
		name := drawingOf(p, step, "")
		row, _ := drawing.Find(name)
		if got := choices(row, step)["stop"]; name != "tdc" || got != "plate" {
			t.Errorf("%s: drawing %s with the stop %q", id, name, got)
		}
	}
	wheel, _ := drawing.Find("wheel")
	if got := choices(wheel, plan.Step{ID: "own", Compute: &plan.Compute{Method: "tdc-stop"}})["stop"]; got != "plug" {
		t.Errorf("a plan of one's own that finds the top by a stop: %q", got)
	}
	if got := choices(wheel, plan.Step{ID: "own", Compute: &plan.Compute{Method: "cam-timing"}})["stop"]; got != "" {
		t.Errorf("a step without a stop: %q", got)
	}
}
