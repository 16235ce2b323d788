package drawing_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc/drawing"
)

func must(t *testing.T, st shown) drawing.Picture {
	t.Helper()
	p, err := drawing.Of(st.row, st.n)
	if err != nil {
		t.Fatalf("%s: %v", st.file, err)
	}
	return p
}

// boxOf is the room a stroke takes.
func boxOf(e drawing.Element) [4]float64 {
	if e.Text != "" {
		a, b, c, d := e.Box()
		return [4]float64{a, b, c, d}
	}
	r := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, s := range e.Path {
		n := map[drawing.Op]int{drawing.MoveTo: 1, drawing.LineTo: 1, drawing.CurveTo: 3}[s.Op]
		for _, p := range s.Points[:n] {
			r = [4]float64{min(r[0], p.X), min(r[1], p.Y), max(r[2], p.X), max(r[3], p.Y)}
		}
	}
	return r
}

func meet(a, b [4]float64) bool {
	return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

func TestNoLabelIsCoveredOrCutOff(t *testing.T) {
	for _, st := range states() {
		p := must(t, st)
		for i, e := range p.Elements {
			if e.Text == "" {
				continue
			}
			b := boxOf(e)
			if b[0] < 0 || b[1] < 0 || b[2] > drawing.Width || b[3] > drawing.Height {
				t.Errorf("%s: %q does not fit: %.0f", st.file, e.Text, b)
			}
			for _, f := range p.Elements[i+1:] {
				if f.Text != "" && meet(b, boxOf(f)) {
					t.Errorf("%s: %q and %q stand on each other", st.file, e.Text, f.Text)
				}
			}
			for _, f := range p.Elements {
				if f.Text == "" && (f.Part == "move" || f.Part == "indicator" || f.Part == "feeler" || f.Part == "micrometer" || f.Class == "tip") && f.Class != "thin" && meet(b, boxOf(f)) {
					t.Errorf("%s: %q and the %s stand on each other", st.file, e.Text, f.Part)
				}
			}
		}
	}
}

func TestLetteringCanBeReadAtHalfSize(t *testing.T) {
	const least = 28 // 14 px where the drawing is 320 px wide
	for _, c := range drawing.Classes() {
		if l, _ := drawing.LookOf(c); l.Size > 0 && l.Size < least {
			t.Errorf("the lettering %q is %g units high, less than %d", c, l.Size, least)
		}
	}
}

func TestThinLinesAreHalfAsWideAsThickOnes(t *testing.T) {
	thick, _ := drawing.LookOf("outline")
	thin, _ := drawing.LookOf("thin")
	if thin.Width*2 != thick.Width { // ISO 128-20: line widths in the proportion 2:1
		t.Errorf("thick %g and thin %g are not 2:1", thick.Width, thin.Width)
	}
}

func TestArrowsPointTheWayTheySay(t *testing.T) {
	for _, st := range states() {
		for _, a := range must(t, st).Arrows {
			dx, dy := a.To.X-a.From.X, a.To.Y-a.From.Y
			ok := map[string]bool{
				"up": dy < 0 && a.Turn == 0, "down": dy > 0 && a.Turn == 0,
				"left": dx < 0 && a.Turn == 0 && math.Abs(dx) > math.Abs(dy), "right": dx > 0 && a.Turn == 0 && math.Abs(dx) > math.Abs(dy),
				"clockwise": a.Turn > 0, "anticlockwise": a.Turn < 0,
			}
			if !ok[a.Says] {
				t.Errorf("%s: an arrow says %q and goes from %.0f to %.0f, turning %.0f°", st.file, a.Says, a.From, a.To, a.Turn)
			}
		}
	}
}

// Which way a move goes in each drawing: what goes away from the cam goes down on a barrel turned over and up on one that
// stands; right-handed threads tighten clockwise seen from the head (common practice).
func TestMovesGoTheWayOfTheJob(t *testing.T) {
	for _, c := range []struct{ row, point, move, way string }{
		{"block-read", "left", "away", "down"},
		{"block-read", "right", "towards", "up"},
		{"block-contact", "left", "away", "up"},
		{"block-contact", "left", "towards", "down"},
		{"crank-float", "", "push", "left"},
		{"crank-float", "", "pull", "right"},
		{"bolts", "1", "tighten", "clockwise"},
		{"bolts", "1", "slacken", "anticlockwise"},
		{"rocker", "left.inlet", "lower", "down"},
		{"rocker", "left.inlet", "raise", "up"},
		{"chain", "", "press", "down"},
		{"lash", "left.inlet", "tighten", "clockwise"},
		{"head-joint", "", "lower", "down"},
		{"followers", "left.inlet", "in", "up"},
	} {
		p := must(t, shown{c.row, c.row, drawing.Numbers{Point: c.point, Move: c.move}})
		var ways []string
		for _, a := range p.Arrows {
			if a.Meant {
				ways = append(ways, a.Says)
			}
		}
		if diff := cmp.Diff([]string{c.way}, ways); diff != "" {
			t.Errorf("%s %s (-want +got):\n%s", c.row, c.move, diff)
		}
	}
}

func TestAPointIsLit(t *testing.T) {
	for _, r := range drawing.Rows() {
		bare := must(t, shown{r.Name, r.Name, drawing.Numbers{}}).SVG()
		seen := map[string]string{bare: "no point"}
		for _, point := range r.Lights {
			svg := must(t, shown{r.Name, r.Name, drawing.Numbers{Point: point}}).SVG()
			if other, ok := seen[svg]; ok {
				t.Errorf("%s looks the same at %q and at %s", r.Name, point, other)
			}
			if !strings.Contains(svg, `class="lit`) && !strings.Contains(svg, `class="name"`) && !strings.Contains(svg, `class="tip"`) && !strings.Contains(svg, `class="ring-lit"`) {
				t.Errorf("%s lights nothing at %q", r.Name, point)
			}
			seen[svg] = point
		}
	}
}

// variants are a point with each move and each answer to each choice.
func variants(r drawing.Row, point string) []drawing.Numbers {
	all := []drawing.Numbers{{Point: point}}
	for _, m := range r.Moves {
		all = append(all, drawing.Numbers{Point: point, Move: m})
	}
	for _, c := range r.Choices {
		for _, v := range c.Of {
			all = append(all, drawing.Numbers{Point: point, Is: map[string]string{c.Name: v}})
		}
	}
	return all
}

// Every number shows: its size in the strokes, or at least its figure.
func TestEveryNumberDrivesItsDrawing(t *testing.T) {
	for _, r := range drawing.Rows() {
		for _, d := range r.Drives {
			shows := false
			for _, point := range append([]string{""}, r.Lights...) {
				for _, n := range variants(r, point) {
					without := must(t, shown{r.Name, r.Name, n}).SVG()
					n.Of = map[string]drawing.Number{d.Name: {Value: d.Least + (d.Most-d.Least)*0.6137, Text: "77.7"}}
					shows = shows || must(t, shown{r.Name, r.Name, n}).SVG() != without
				}
			}
			if !shows {
				t.Errorf("%s: the number %q changes nothing", r.Name, d.Name)
			}
		}
		for _, c := range r.Choices {
			looks := map[string]string{}
			for _, v := range c.Of {
				svg := must(t, shown{r.Name, r.Name, drawing.Numbers{Is: map[string]string{c.Name: v}, Point: first(r.Lights), Move: first(r.Moves), Of: numbers(r, "odd")}}).SVG()
				if other, ok := looks[svg]; ok {
					t.Errorf("%s: %s %q looks like %q", r.Name, c.Name, v, other)
				}
				looks[svg] = v
			}
		}
		for _, m := range r.Moves {
			shows := false
			for _, point := range append([]string{""}, r.Lights...) {
				a := must(t, shown{r.Name, r.Name, drawing.Numbers{Point: point}}).SVG()
				shows = shows || a != must(t, shown{r.Name, r.Name, drawing.Numbers{Point: point, Move: m}}).SVG()
			}
			if !shows {
				t.Errorf("%s: the move %q shows nothing", r.Name, m)
			}
		}
	}
}

// Left is left in every drawing that has both sides.
func TestLeftStandsLeft(t *testing.T) {
	sides := 0
	for _, r := range drawing.Rows() {
		p := must(t, shown{r.Name, r.Name, drawing.Numbers{}})
		at := map[string]float64{}
		for _, e := range p.Elements {
			for _, side := range []string{"left", "right"} {
				if rest, ok := strings.CutPrefix(e.Part, side+" "); ok && at[side+rest] == 0 {
					b := boxOf(e)
					at[side+" "+rest] = b[0] + b[2]
				}
			}
		}
		for part, x := range at {
			rest, ok := strings.CutPrefix(part, "left ")
			if !ok {
				continue
			}
			sides++
			if x >= at["right "+rest] {
				t.Errorf("%s: the left %s stands at %.0f, the right at %.0f", r.Name, rest, x/2, at["right "+rest]/2)
			}
		}
	}
	if sides < 3 {
		t.Errorf("only %d drawings show both sides", sides)
	}
}

func TestThePistonFollowsTheCrank(t *testing.T) {
	crown := func(deg float64) float64 {
		p := must(t, shown{"tdc", "tdc", drawing.Numbers{Of: map[string]drawing.Number{"angle": {Value: deg}}}})
		for _, e := range p.Elements {
			if e.Part == "piston" {
				return boxOf(e)[1]
			}
		}
		t.Fatal("no piston")
		return 0
	}
	top, quarter, bottom := crown(0), crown(90), crown(180)
	if !(top < quarter && quarter < bottom) {
		t.Fatalf("crown at 0, 90, 180°: %.1f, %.1f, %.1f", top, quarter, bottom)
	}
	// The slider crank with a rod of four throws: at 90° the piston has gone 4 + 1 − √15 = 1.127 throws of 2 (textbook formula).
	if got, want := (quarter-top)/(bottom-top), (5-math.Sqrt(15))/2; math.Abs(got-want) > 0.003 {
		t.Errorf("share of the stroke at 90°: got %.4f, want %.4f", got, want)
	}
	if a, b := crown(-30), crown(30); math.Abs(a-b) > 1e-9 {
		t.Errorf("crown 30° before and after the top: %.2f and %.2f", a, b)
	}
}

// By eye the top is found with a plate across the bore: no indicator stands there, and the crown rests against the plate's
// stud, on the side of the top that the turning comes from (common practice).
func TestThePistonRestsAgainstTheStop(t *testing.T) {
	for _, point := range []string{"forward", "back"} {
		p := must(t, shown{"tdc", "tdc", drawing.Numbers{Point: point, Is: map[string]string{"stop": "plate"}}})
		stop, crown := 0.0, 0.0
		for _, e := range p.Elements {
			switch e.Part {
			case "stop":
				stop = max(stop, boxOf(e)[3])
			case "piston":
				crown = boxOf(e)[1]
				for _, f := range p.Elements {
					if f.Part == "piston" {
						crown = min(crown, boxOf(f)[1])
					}
				}
			case "indicator":
				t.Errorf("%s: an indicator beside the stop", point)
			}
		}
		if math.Abs(crown-stop) > 1 {
			t.Errorf("%s: the stop ends at %.1f, the crown stands at %.1f", point, stop, crown)
		}
		if strings.Contains(p.Says, "indicator") || !strings.Contains(p.Says, "against it") {
			t.Errorf("%s says %q", point, p.Says)
		}
	}
}

// About overlap the inlet opens while the exhaust shuts, and the piston goes down on either side of the top (common practice).
func TestTheValveFollowsTheCrank(t *testing.T) {
	stand := func(valve string, deg float64) (head, crown float64) {
		p := must(t, shown{"valve-piston", valve, drawing.Numbers{Point: valve, Of: map[string]drawing.Number{"angle": {Value: deg}}}})
		for _, e := range p.Elements {
			switch b := boxOf(e); {
			case e.Part == "valve" && e.Class == "lit-body":
				head = b[3]
			case e.Part == "piston" && e.Class == "cut":
				crown = b[1]
			}
		}
		return head, crown
	}
	before, crownBefore := stand("inlet", -20)
	top, crownTop := stand("inlet", 0)
	after, crownAfter := stand("inlet", 20)
	if !(before < top && top < after) {
		t.Errorf("the inlet's head at -20, 0, 20 degrees: %.1f, %.1f, %.1f; want it to go down", before, top, after)
	}
	if !(crownBefore > crownTop && crownAfter > crownTop) {
		t.Errorf("the crown at -20, 0, 20 degrees: %.1f, %.1f, %.1f; want it highest at the top", crownBefore, crownTop, crownAfter)
	}
	a, _ := stand("exhaust", -20)
	if b, _ := stand("exhaust", 20); a <= b {
		t.Errorf("the exhaust's head at -20 and 20 degrees: %.1f, %.1f; want it to go up", a, b)
	}
}

func TestTheStyleSheetServesEveryClass(t *testing.T) {
	css := drawing.Style()
	used := map[string]bool{}
	for _, st := range states() {
		svg := must(t, st).SVG()
		if strings.Contains(svg, "style=") || strings.Contains(svg, "url(") || strings.Contains(svg, " id=") || strings.Contains(svg, "NaN") {
			t.Errorf("%s has a style, a reference, an identifier or a number that is none", st.file)
		}
		for _, e := range must(t, st).Elements {
			used[e.Class] = true
			if _, ok := drawing.LookOf(e.Class); !ok {
				t.Errorf("%s: the class %q has no row in calc/drawing/look.go", st.file, e.Class)
			}
		}
	}
	for _, c := range drawing.Classes() {
		if !strings.Contains(css, "svg.scene ."+c+" {") {
			t.Errorf("the style sheet has no rule for %q", c)
		}
		if !used[c] {
			t.Errorf("the class %q of calc/drawing/look.go is used by no drawing", c)
		}
	}
}

// luminance and contrast are those of WCAG 2.2 (relative luminance, contrast ratio).
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil || len(hex) != 7 {
		t.Fatalf("%q is no colour", hex)
	}
	l := 0.0
	for i, w := range []float64{0.2126, 0.7152, 0.0722} {
		c := float64(n>>(16-8*i)&255) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		l += w * c
	}
	return l
}

func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestTextStandsOutFromItsGround(t *testing.T) {
	// WCAG 2.2: black on white is 21:1; #767676 on white is the lightest grey that passes 4.5:1 (4.54).
	if got := contrast(t, "#000000", "#ffffff"); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white: %g", got)
	}
	if got := fmt.Sprintf("%.2f", contrast(t, "#767676", "#ffffff")); got != "4.54" {
		t.Fatalf("#767676 on white: %s", got)
	}
	grounds := map[string]drawing.Ink{"on-wash": drawing.Wash, "on-flag": drawing.Lit}
	for _, th := range []drawing.Theme{drawing.Light, drawing.Dark, drawing.Print} {
		c := drawing.Colours(th)
		for _, class := range drawing.Classes() {
			l, _ := drawing.LookOf(class)
			if l.Size == 0 {
				continue
			}
			ground, ok := grounds[class]
			if !ok {
				ground = drawing.Paper
				if l.Edge == 0 {
					t.Errorf("%s has no paper around it and no ground of its own", class)
				}
			}
			if got := contrast(t, c[l.Fill], c[ground]); got < 4.5 {
				t.Errorf("%s in %s: %.2f:1, less than 4.5:1", class, th, got)
			}
		}
	}
}

// jobs are the steps of the shipped plan for a twin.
var jobs = strings.Fields(`ready weights cooled stop-away blocks-dry rod-bearings crank-runout cam-bush cases-dry end-float block-fit screw-hole bores rings pins
	stems chambers springs barrels-dry deck compression block-contact block-seat block-proof dry-top tdc timing-dry cam head-dry
	valve-to-piston rockers strip-down wash-cases wash-barrels blocks-locked count rods-on cases-closed followers pistons-ready
	pistons-on board-clamps barrels-over barrels-down base-bolts keepers-out deck-proof tdc-proof timing-gear cam-proof valves-in
	head-on head-bolts rockers-on lash ignition leak-down closing prime first-start retorque lash-again leak-again`)

func TestAPointChoosesItsDrawing(t *testing.T) {
	for _, c := range [][3]string{
		{"weights", "left.small", "weighing"}, {"rod-bearings", "left.bolt-1", "rod-bearing"}, {"crank-runout", "turn", "crank-runout"},
		{"cam-bush", "bush-2.journal", "bush"}, {"end-float", "bare", "crank-float"}, {"end-float", "float.1", "crank-float"}, {"end-float", "camshaft", "camshaft-float"},
		{"end-float", "left.side", "rod-side"}, {"bores", "left.top.thrust", "bore"}, {"rings", "left.top.gap", "ring-feeler"}, {"rings", "left.top.side", "ring-side"},
		{"compression", "left.filled", "cylinder-fill"}, {"block-contact", "left.start", "block-read"}, {"block-contact", "right.contact", "block-contact"},
		{"block-contact", "left.now", "block-read"}, {"block-seat", "left.pilot", "cone-seat"}, {"block-proof", "left.now", "block-read"}, {"block-proof", "left.corner", "block-corner"},
		{"blocks-dry", "left.dry", "block-read"}, {"blocks-locked", "right.locked", "block-read"}, {"tdc", "forward", "tdc"}, {"timing-dry", "135deg", "chain"},
		{"cam", "inlet", "follower-lift"}, {"cam", "inlet.opening", "wheel"}, {"valve-to-piston", "left.inlet.push", "valve-piston"}, {"valve-to-piston", "left.between", "valve-valve"},
		{"base-bolts", "bolt-3", "bolts"}, {"lash", "left.inlet.found", "lash"}, {"ignition", "left", "ignition"}, {"leak-down", "right", "leak-down"},
		{"first-start", "oil", "oil"}, {"dry-top", "", "block-lock"}, {"nothing", "", ""},
	} {
		if got := drawing.At(c[0], c[1]); got != c[2] {
			t.Errorf("%s at %q is drawn as %q, want %q", c[0], c[1], got, c[2])
		}
	}
}

func TestEveryJobHasADrawing(t *testing.T) {
	known := map[string]bool{}
	for _, j := range jobs {
		known[j] = true
		if len(drawing.For(j)) == 0 {
			t.Errorf("the job %q has no drawing: calc/drawing/table.go names the files with the rows", j)
		}
	}
	for _, r := range drawing.Rows() {
		for _, j := range r.Jobs {
			if !known[j] {
				t.Errorf("the drawing %s belongs to a job that is in no plan: %q", r.Name, j)
			}
		}
		if len(r.Jobs) == 0 && r.Name != "gauge-gone" {
			t.Errorf("the drawing %s belongs to no job", r.Name)
		}
		if r.Live != "" {
			found := false
			for _, d := range r.Drives {
				found = found || d.Name == r.Live
			}
			if !found {
				t.Errorf("the drawing %s reads %q, which is not among its numbers", r.Name, r.Live)
			}
		}
	}
}

// TestASparkAfterTheTopHasNoSign: the drawing of the ignition says on which side of the top in words.
func TestASparkAfterTheTopHasNoSign(t *testing.T) {
	for text, want := range map[string]string{"28°": "28° before the top", "-2°": "2° after the top", "−2°": "2° after the top"} {
		pic, err := drawing.Of("ignition", drawing.Numbers{Of: map[string]drawing.Number{"angle": {Value: 2, Text: text}}})
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(pic.Says, want) {
			t.Errorf("%s: %q does not say %q", text, pic.Says, want)
		}
	}
}
