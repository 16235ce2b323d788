package calc

import (
	"fmt"
	"math"
	"strings"

	"thoud/calc/quantity"
)

// camCorrection: which keyway and tooth (or which pair of holes) bring a lobe centre to where it is wanted.
//
//	correction = centre now − centre wanted      crank degrees, + = advance; cam degrees are half of it
//	option     = tooth·360/teeth + keyway offset − the same as it stands now        cam degrees, + = advance
//	vernier    = one step is 360/lcm(holes_a, holes_b) cam degrees
//	centre then = centre now − 2·option          residual = correction − option, cam degrees
//
// With lobes, several of one camshaft get one answer. Lobe j wants d = ±(now − wanted), + inlet, − exhaust (before top dead
// centre); the correction is their mean, Σ d/u² / Σ 1/u² (alike where no u is given), or with rule least-worst (max d + min
// d)/2; residuals are d − 2·option. By how much the wants differ (span) is lobe separation, which no key cures: over 3° it is
// warned of. Only options within most_advance and most_retard are taken.
//
// The option nearest to the correction is chosen; of two equally near the one that moves fewer teeth, then the one that
// leaves the keyway. Centres in crank degrees after top dead centre (inlet; an exhaust centre given before top dead
// centre is given negative). Holes are numbered from the pair pinned now, in the running direction of the camshaft.
// Refused: no teeth and no holes, unknown keyways, a correction of half a turn of the crank or more,
// no option within most_advance and most_retard. Common practice; several lobes computed independently, no published
// example.
func camCorrection() Method {
	return Method{
		Name: "cam-correction", Version: 2, Title: "Cam correction: which keyway and which tooth",
		Inputs: append([]Input{
			{Name: "centre_now", Kind: quantity.Angle, Optional: true, Doc: "lobe centre as measured, crank degrees after top dead centre; or lobes"},
			{Name: "centre_wanted", Kind: quantity.Angle, Optional: true, Doc: "lobe centre wanted, likewise"},
			{Name: "teeth", Kind: quantity.Number, Optional: true, Positive: true, Doc: "teeth of the camshaft's wheel"},
			{Name: "keyways", Shape: Records, Optional: true, Doc: "the keyways of the wheel", Fields: []Input{
				{Name: "name", Shape: Text, Doc: "its mark"},
				{Name: "advance", Kind: quantity.Angle, Doc: "how much it advances the camshaft, cam degrees"},
			}},
			{Name: "tooth_moves", Shape: List, Kind: quantity.Number, Optional: true, Doc: "teeth the wheel may be moved from where it meshes now, + = advance; any number where not given"},
			{Name: "now", Shape: Record, Optional: true, Doc: "as it stands now", Fields: []Input{
				{Name: "tooth", Kind: quantity.Number, Optional: true, Doc: "tooth it meshes on, counted from the marks, + = advanced"},
				{Name: "keyway", Shape: Text, Optional: true, Doc: "mark of the keyway in use"},
			}},
			{Name: "holes_a", Kind: quantity.Number, Optional: true, Positive: true, Doc: "vernier: holes of the plate on the wheel"},
			{Name: "holes_b", Kind: quantity.Number, Optional: true, Positive: true, Doc: "vernier: holes of the plate on the camshaft"},
		}, lobeInputs()...),
		Figures: append([]Figure{
			{Name: "correction_crank", Kind: quantity.Angle, Doc: "wanted change, crank degrees, + = advance"},
			{Name: "correction_cam", Kind: quantity.Angle, Doc: "wanted change, cam degrees, + = advance"},
			{Name: "direction", Text: true, Doc: "advance, retard or none"},
			{Name: "keyway", Text: true, Choice: true, Doc: "keyway to use"},
			{Name: "tooth", Kind: quantity.Number, Choice: true, Doc: "tooth to mesh on, counted from the marks"},
			{Name: "tooth_move", Kind: quantity.Number, Choice: true, Unit: "teeth", Doc: "teeth to move from where it meshes now, + = advance"},
			{Name: "steps", Kind: quantity.Number, Choice: true, Unit: "steps", Doc: "vernier steps to move, + = advance"},
			{Name: "step", Kind: quantity.Angle, Choice: true, Doc: "one vernier step, cam degrees"},
			{Name: "hole_a", Kind: quantity.Number, Choice: true, Doc: "hole of the wheel's plate to pin, counted from the one pinned now in the running direction"},
			{Name: "hole_b", Kind: quantity.Number, Choice: true, Doc: "hole of the camshaft's plate to pin, counted likewise"},
			{Name: "change_cam", Kind: quantity.Angle, Choice: true, Doc: "what the option chosen changes, cam degrees, + = advance"},
			{Name: "centre_then", Kind: quantity.Angle, Doc: "lobe centre with it, crank degrees after top dead centre"},
			{Name: "residual", Kind: quantity.Angle, Doc: "what stays uncorrected, cam degrees, + = still to advance"},
			{Name: "runner_up", Text: true, Doc: "the next best option"},
		}, lobeFigures()...),
		Formula: "correction = centre now − centre wanted (crank degrees, + = advance), half of it on the camshaft; one tooth = 360/teeth, one vernier step = 360/lcm(holes) cam degrees",
		Source:  "plane geometry; common practice",
		Cautions: []string{
			"Measure valve-to-piston clearance again after every change of timing, before the crank is turned through.",
			"With the head on and the timing gear off turn neither crank nor camshaft.",
			"Mind left-hand threads; new lock tabs.",
		},
		Compute: computeCamCorrection,
	}
}

// camOption is one way to set the camshaft.
type camOption struct {
	change         float64 // cam degrees, + = advance
	move           float64 // teeth or vernier steps
	key            int     // index of the keyway
	keyMoved       bool
	holeA, holeB   int
	words, keyName string
	told, keySaid  string // words and name, with what the keyway's mark means
}

func computeCamCorrection(in Args, out *Out) error {
	ask, err := askedOf(in, func() (float64, error) {
		return turnedFrom("centre_now", in.Num("centre_now"), in.Num("centre_wanted"))
	}, "centre_now", "centre_wanted")
	if err != nil {
		return err
	}
	crank := ask.crank
	if math.Abs(crank) > 40 {
		out.Warn("a correction of %.0f° of crank is more than any wheel is made for: check both centres", math.Abs(crank))
	}
	want := crank / 2
	options, err := allowedOptions(in, out, want)
	if err != nil {
		return err
	}
	best, next := -1, -1
	for i := range options {
		switch {
		case best < 0 || nearerOption(options[i], options[best], want):
			best, next = i, best
		case next < 0 || nearerOption(options[i], options[next], want):
			next = i
		}
	}
	o := options[best]
	out.Set("correction_crank", crank)
	out.Set("correction_cam", want)
	out.SetText("direction", advanceWord(crank))
	out.Set("change_cam", o.change)
	if !in.Has("lobes") {
		out.Set("centre_then", in.Num("centre_now")-2*o.change)
	}
	out.Set("residual", want-o.change)
	ask.setFigures(out, 2*o.change)
	if next >= 0 {
		out.SetText("runner_up", fmt.Sprintf("%s: %+.2f° of cam left", options[next].words, want-options[next].change))
	}
	if in.Has("holes_a") {
		out.Set("steps", o.move)
		out.Set("hole_a", float64(o.holeA))
		out.Set("hole_b", float64(o.holeB))
	} else {
		out.Set("tooth", in.Rec("now").Num("tooth")+o.move)
		out.Set("tooth_move", o.move)
		if o.keyName != "" {
			out.SetText("keyway", o.keyName)
			out.Say("keyway", o.keySaid)
		}
	}
	a := Adjustment{What: "camshaft", Amount: o.change, Kind: quantity.Angle, Direction: advanceWord(o.change), Answers: []string{"correction_crank", "correction_cam"},
		Words: "{direction} the camshaft by {amount} of its own turn: " + o.told + "; then measure valve-to-piston clearance again"}
	if a.Direction == "none" {
		a.Words = "leave the camshaft: nothing on this wheel comes nearer"
	}
	out.Adjust(a)
	return nil
}

func advanceWord(x float64) string {
	switch {
	case x > 1e-9:
		return "advance"
	case x < -1e-9:
		return "retard"
	}
	return "none"
}

// nearerOption prefers the smaller residual, then fewer teeth, then the keyway in use.
func nearerOption(a, b camOption, want float64) bool {
	ra, rb := math.Abs(want-a.change), math.Abs(want-b.change)
	if math.Abs(ra-rb) > 1e-9 {
		return ra < rb
	}
	if ma, mb := math.Abs(a.move), math.Abs(b.move); ma != mb {
		return ma < mb
	}
	return !a.keyMoved && b.keyMoved
}

// allowedOptions are the options within what may be turned.
func allowedOptions(in Args, out *Out, want float64) ([]camOption, error) {
	least, most, err := allowedTurn(in)
	if err != nil {
		return nil, err
	}
	options, err := camOptions(in, out, math.Max(least/2, math.Min(most/2, want)))
	if err != nil {
		return nil, err
	}
	kept := options[:0]
	for _, o := range options {
		if 2*o.change >= least-1e-9 && 2*o.change <= most+1e-9 {
			kept = append(kept, o)
		}
	}
	if len(kept) == 0 {
		return nil, Refuse("most_advance", "give other keyways, or make more room for the valves", "no keyway and no tooth keeps the change between %.1f° and %.1f° of crank", least, most)
	}
	return kept, nil
}

func camOptions(in Args, out *Out, want float64) ([]camOption, error) {
	vernier := in.Has("holes_a") || in.Has("holes_b")
	switch {
	case vernier && in.Has("teeth"):
		return nil, Refuse("holes_a", "give the vernier plates or the teeth, and correct in two goes where both can be moved", "teeth and holes are both given")
	case vernier:
		return vernierOptions(in, out, want)
	case !in.Has("teeth"):
		return nil, Refuse("teeth", "give the teeth of the camshaft's wheel, or holes_a and holes_b", "neither is given")
	}
	return toothOptions(in, want)
}

// toothOptions lists every keyway with every tooth that can matter.
func toothOptions(in Args, want float64) ([]camOption, error) {
	teeth := in.Num("teeth")
	if teeth != math.Trunc(teeth) || teeth < 6 || teeth > 400 {
		return nil, Refuse("teeth", "count them", "%g is no number of teeth", teeth)
	}
	pitch := 360 / teeth
	offsets, names, now, err := keyways(in)
	if err != nil {
		return nil, err
	}
	farthest := math.Abs(want)
	for _, k := range offsets {
		farthest = math.Max(farthest, math.Abs(want)+math.Abs(k-offsets[now]))
	}
	moves := in.List("tooth_moves")
	if len(moves) == 0 {
		most := math.Min(math.Ceil(farthest/pitch)+1, teeth)
		for m := -most; m <= most; m++ {
			moves = append(moves, m)
		}
	}
	var options []camOption
	for _, m := range moves {
		if m != math.Trunc(m) {
			return nil, Refuse("tooth_moves", "give whole teeth", "%g is no whole number of teeth", m)
		}
		for k, offset := range offsets {
			o := camOption{change: m*pitch + offset - offsets[now], move: m, key: k, keyMoved: k != now, keyName: names[k]}
			o.keySaid = keySaid(o.keyName, offset)
			o.words, o.told = toothWords(o, o.keyName), toothWords(o, o.keySaid)
			options = append(options, o)
		}
	}
	return options, nil
}

// keySaid is a keyway's mark as it is said in an order: one that is a sign or a nought has its way in words before it.
func keySaid(name string, advance float64) string {
	if name != "0" && name != "-" && name != "+" {
		return name
	}
	switch {
	case advance > 0:
		return "earlier (" + name + ")"
	case advance < 0:
		return "later (" + name + ")"
	}
	return "straight (" + name + ")"
}

func toothWords(o camOption, keyName string) string {
	s := "same tooth"
	switch n := math.Abs(o.move); {
	case n == 1:
		s = "one tooth " + ahead(o.move)
	case n > 1:
		s = fmt.Sprintf("%.0f teeth %s", n, ahead(o.move))
	}
	switch {
	case o.keyName == "":
	case o.keyMoved:
		s = "keyway " + keyName + ", " + s
	case strings.Contains(keyName, "("):
		s = "same keyway, " + keyName + ", " + s
	default:
		s = "same keyway (" + keyName + "), " + s
	}
	return s
}

func ahead(move float64) string {
	if move > 0 {
		return "ahead in the camshaft's running direction"
	}
	return "back against the camshaft's running direction"
}

// keyways reads offsets and names; one plain keyway where none are given. now is the one in use: the one named, else
// the one without offset.
func keyways(in Args) (offsets []float64, names []string, now int, err error) {
	used, found := in.Rec("now").Text("keyway"), -1
	for i, k := range in.Recs("keyways") {
		offsets, names = append(offsets, k.Num("advance")), append(names, k.Text("name"))
		if math.Abs(k.Num("advance")) > 60 {
			return nil, nil, 0, Refuse("keyways", "give what the keyway changes, in cam degrees", "keyway %q at %.1f°", k.Text("name"), k.Num("advance"))
		}
		if used == k.Text("name") && used != "" || used == "" && k.Num("advance") == 0 && found < 0 {
			found = i
		}
	}
	switch {
	case len(offsets) == 0 && used != "":
		return nil, nil, 0, Refuse("now.keyway", "list the wheel's keyways", "keyway %q is in use but no keyways are given", used)
	case len(offsets) == 0:
		return []float64{0}, []string{""}, 0, nil
	case found < 0 && used != "":
		return nil, nil, 0, Refuse("now.keyway", "name one of them", "%q is not among the keyways", used)
	case found < 0:
		return nil, nil, 0, Refuse("now.keyway", "say which keyway is in use now", "none of the keyways has no offset")
	}
	return offsets, names, found, nil
}

// vernierOptions lists the steps either side of the correction, with the pair of holes to pin: turning the camshaft by
// 360·(i/a − j/b) brings its hole j to the wheel's hole i.
func vernierOptions(in Args, out *Out, want float64) ([]camOption, error) {
	var n [2]int
	for i, name := range []string{"holes_a", "holes_b"} {
		h := in.Num(name)
		if h != math.Trunc(h) || h < 2 || h > 500 {
			return nil, Refuse(name, "count the holes of both plates", "%g is no number of holes", h)
		}
		n[i] = int(h)
	}
	lcm := n[0] / int(gcd(int64(n[0]), int64(n[1]))) * n[1]
	step := 360 / float64(lcm)
	out.Set("step", step)
	var options []camOption
	for _, k := range []float64{math.Floor(want / step), math.Ceil(want / step)} {
		o := camOption{change: k * step, move: k}
		for i := range n[0] {
			// i/a − j/b = k/lcm, so j = (i·lcm/a − k)·b/lcm, whole for the pair that meets.
			if j := i*(lcm/n[0]) - int(k); j%(lcm/n[1]) == 0 {
				o.holeA, o.holeB = i, ((j/(lcm/n[1]))%n[1]+n[1])%n[1]
				break
			}
		}
		o.words = fmt.Sprintf("pin hole %d of the wheel's plate to hole %d of the camshaft's, counted in the running direction from the pair pinned now (%+.0f steps)", o.holeA, o.holeB, k)
		o.told = o.words
		options = append(options, o)
	}
	if options[0].move == options[1].move {
		options = options[:1]
	}
	return options, nil
}
