package calc

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
)

// chainSlack finds the tight spot of a chain around the turn and what to move for the slack wanted there.
//
//	excess length of a run  ε = √(T² + s²) − T          T straight run, s total movement at mid-run, other run taut
//	ε(φ) = ε̄ + A cos φ + B sin φ (+ the same at m·φ)     least squares on ε; m turns of the other sprocket per turn
//	cos γ = T/C, C = √(T² + (r₂ − r₁)²)                  eccentricity of a sprocket = amplitude/(2 cos γ)
//	worst excess = ε̄ − A₁ − A₂: the tightest place over all phases of both sprockets, never more than the least read
//	centre distance: move = (worst − wanted)/(2 cos γ)   exact derivative of the loop's length
//	tensioner: secant of two settings, a = a₁ + (ε_w − ε₁)(a₂ − a₁)/(ε₂ − ε₁)
//
// Lengths in mm, angles in degrees of the reference sprocket, the rear one (of a timing chain the camshaft's, so that
// its one turn is 720° of crank), not wrapped; move + = takes slack up. From one setting of a tensioner no amount is
// given.
//
// The two eccentricities meet in every phase sooner or later, however few turns were read: with m = p/q in its lowest
// terms (q up to 150, within 0.0005) the curve comes within 2.2 % of an amplitude of ε̄ − A₁ − A₂ in q turns where q is 15
// or more. For a smaller q the sprockets repeat sooner: there the least of the curve over q turns counts, and it is said
// what another phase of fitting would give. tight_at and tight_turn are where in those turns; a place that was not read
// is to be proved. Where the curve goes below a taut chain the answer is to slacken it, and it is warned of.
//
// Accepted: a widest gap of 60° on the turn of each sprocket that is fitted, at least one reading more than unknowns, an
// amplification (see runout) of 1.5, warned of to 3. Refused: a ratio of 1:1 or angles that cannot tell the two sprockets
// apart; angles beyond a thousand turns; negative slack; two settings with the same excess. Plane geometry; total movement at mid-run and finding the tight spot first are common practice.
func chainSlack() Method {
	return Method{
		Name: "chain-slack", Version: 2, Title: "Chain slack around the turn, set at the tight spot",
		Inputs: []Input{
			{Name: "angle", Shape: List, Kind: quantity.Angle, Doc: "angle of the rear (reference) sprocket at each reading, counted on over more turns"},
			{Name: "slack", Shape: List, Kind: quantity.Length, Doc: "total movement at mid-run"},
			{Name: "straight_run", Kind: quantity.Length, Positive: true, Doc: "length of the free run between the sprockets"},
			{Name: "radius_front", Kind: quantity.Length, Positive: true, Doc: "pitch radius of the front sprocket"},
			{Name: "radius_rear", Kind: quantity.Length, Positive: true, Doc: "pitch radius of the rear (reference) sprocket"},
			{Name: "other_turns", Kind: quantity.Number, Positive: true, Optional: true, Doc: "turns of the front sprocket per turn of the rear one; separates the two eccentricities"},
			{Name: "min_slack", Kind: quantity.Length, Optional: true, Doc: "slack wanted at the tight spot"},
			{Name: "adjust", Shape: Text, Enum: []string{"centre-distance", "tensioner"}, Optional: true, Doc: "how it is adjusted; centre-distance where not given"},
			{Name: "setting_now", Kind: quantity.Length, Optional: true, Doc: "tensioner: its setting at these readings"},
			{Name: "setting_before", Kind: quantity.Length, Optional: true, Doc: "tensioner: an earlier setting"},
			{Name: "excess_before", Kind: quantity.Length, Optional: true, Doc: "tensioner: worst excess at the earlier setting"},
			{Name: "adjuster_pitch", Kind: quantity.Pitch, Positive: true, Optional: true, Doc: "pitch of the adjuster's screw"},
		},
		Figures: []Figure{
			{Name: "mean_excess", Kind: quantity.Length, Doc: "mean excess length of the run"},
			{Name: "rear_eccentricity", Kind: quantity.Length, Doc: "of the rear (reference) sprocket"},
			{Name: "front_eccentricity", Kind: quantity.Length, Doc: "of the front sprocket, where other_turns is given"},
			{Name: "tight_turn", Kind: quantity.Number, Choice: true, Doc: "turn of the rear sprocket it is in, the one from 0° to 360° being the first; where other_turns is given"},
			{Name: "tight_at", Kind: quantity.Angle, Doc: "angle of the tight spot, counted on over the turns"},
			{Name: "worst_excess", Kind: quantity.Length, Doc: "excess length at the tight spot"},
			{Name: "tight_slack", Kind: quantity.Length, Doc: "slack at the tight spot"},
			{Name: "move", Kind: quantity.Length, Doc: "to move, + = takes slack up"},
			{Name: "turns", Kind: quantity.Number, Unit: "turns", Doc: "turns of the adjuster, + = takes slack up"},
			{Name: "setting_wanted", Kind: quantity.Length, Doc: "tensioner: setting that gives the slack wanted"},
		},
		Formula:  "ε = √(T² + s²) − T; ε fitted around the turn; worst ε = mean − both amplitudes; move = (worst ε − ε wanted)/(2 cos γ)",
		Source:   "plane geometry, least squares; common practice",
		Cautions: []string{"Plugs out; turn by hand from the crank nut only, never with the engine running: fingers are lost in sprockets.", "Set the chain before the camshaft is timed: tension moves the timing. Move both adjusters alike."},
		Compute:  computeChainSlack,
	}
}

func computeChainSlack(in Args, out *Out) error {
	run := chainRun{straight: in.Num("straight_run"), rise: in.Num("radius_rear") - in.Num("radius_front")}
	fit, err := fitChain(in, run, out)
	if err != nil {
		return err
	}
	tight := fit.tightest(in, run)
	worst := tight.excess
	out.Set("mean_excess", fit.mean)
	out.Set("rear_eccentricity", fit.amplitude(0)/(2*run.cos()))
	if in.Has("other_turns") {
		out.Set("front_eccentricity", fit.amplitude(1)/(2*run.cos()))
		out.Set("tight_turn", math.Floor(tight.at/360)+1)
	}
	out.Set("tight_at", tight.at)
	declareChain(in, run, fit, out)
	setChainSlopes(in, run, fit, tight, out)
	out.Set("worst_excess", worst)
	out.Set("tight_slack", run.slack(worst))
	tight.warn(in, run, fit, out)
	if !in.Has("min_slack") {
		return nil
	}
	if in.Num("min_slack") < 0 {
		return Refuse("min_slack", "give the slack wanted at the tight spot, 0 or more", "%.3f mm", in.Num("min_slack"))
	}
	if in.TextOr("adjust", "centre-distance") == "tensioner" {
		return moveTensioner(in, run, worst, out)
	}
	setChainMove(in, (worst-run.excess(in.Num("min_slack")))/(2*run.cos()), out)
	return nil
}

// declareChain lets the residuals of the excess be held against what was stated for the slack.
func declareChain(in Args, run chainRun, fit harmonics, out *Out) {
	out.Fit(Fit{
		Figures:   []string{"mean_excess", "rear_eccentricity", "front_eccentricity", "tight_at", "worst_excess", "tight_slack", "move", "turns", "setting_wanted"},
		Residuals: fit.residual, Unknowns: 1 + 2*len(fit.order),
		Readings: []Measured{{Input: "slack", Slope: run.slopes(in.List("slack"))}},
		Against:  []Measured{{Input: "angle", Slope: fit.slopes(in.List("angle"))}},
	})
}

// warn says what of the tight place was not proved, and what is odd about it.
func (s tightSpot) warn(in Args, run chainRun, fit harmonics, out *Out) {
	where := fmt.Sprintf("%.1f°", s.at)
	if s.turns > 1 {
		where = fmt.Sprintf("turn %.0f, %.1f°", math.Floor(s.at/360)+1, wrap(s.at, 360))
	}
	if s.excess < 0 {
		out.Warn("the chain goes taut at %s: it lacks %.3f mm of length there; slacken it before it is turned on", where, -s.excess)
	}
	if !s.read {
		out.Warn("the tightest place, %s of the rear sprocket, was not read: turn on to it and prove it there", where)
	}
	if other := s.otherPhase; other < s.excess-1e-9 {
		out.Warn("fitted with the sprockets in another phase the chain would have only %.3f mm of excess at its tightest: mark the sprockets, or set it for that", other)
	}
	if fit.worst > math.Max(3*fit.rms, 0.2*math.Abs(fit.mean)) || run.excess(slices.Min(in.List("slack"))) < 0.5*s.fitted {
		out.Warn("one reading is much tighter than its neighbours: look for a tight link")
	}
}

// chainRun is the geometry of one free run: its length and the difference of the pitch radii.
type chainRun struct{ straight, rise float64 }

func (c chainRun) cos() float64            { return c.straight / math.Hypot(c.straight, c.rise) }
func (c chainRun) slack(e float64) float64 { return math.Sqrt(math.Max(0, e*(e+2*c.straight))) } // taut: none

// slopes are the changes of excess with slack.
func (c chainRun) slopes(slack []float64) []float64 {
	out := make([]float64, len(slack))
	for i, s := range slack {
		out[i] = s / math.Hypot(c.straight, s)
	}
	return out
}

func (c chainRun) excess(s float64) float64 { return s * s / (math.Hypot(c.straight, s) + c.straight) }

// Bounds of what is taken for a chain drive.
const (
	mostChainTurns = 1000 // turns that are counted on
	mostChainRatio = 50
)

func fitChain(in Args, run chainRun, out *Out) (harmonics, error) {
	angle, slack := in.List("angle"), in.List("slack")
	for i, a := range angle {
		if math.Abs(a) > 360*mostChainTurns {
			return harmonics{}, Refuse("angle", "count the turns from where you began", "reading %d is at %g°, more than %d turns", i+1, a, mostChainTurns)
		}
	}
	if err := checkTurn(in, "angle", "slack", 60); err != nil {
		return harmonics{}, err
	}
	excess := make([]float64, len(slack))
	for i, s := range slack {
		if s < 0 {
			return harmonics{}, Refuse("slack", "give the total movement at mid-run, 0 or more", "reading %d is %.3f mm", i+1, s)
		}
		excess[i] = run.excess(s)
	}
	orders := []float64{1}
	if in.Has("other_turns") {
		m := in.Num("other_turns")
		if m > mostChainRatio || m < 1.0/mostChainRatio {
			return harmonics{}, Refuse("other_turns", "give the teeth of the rear sprocket over those of the front one", "%g turns of the other sprocket per turn", m)
		}
		if math.Abs(m-1) < 0.05 {
			return harmonics{}, Refuse("other_turns", "leave it out: at 1:1 both sprockets tighten the chain once a turn and cannot be told apart", "%g turns of the other sprocket per turn", m)
		}
		other := make([]float64, len(angle))
		for i, a := range angle {
			other[i] = a * m
		}
		if gap := widestGap(other, 360); gap > 60+1e-9 {
			return harmonics{}, Refuse("angle", "read at smaller steps and over more turns", "on the other sprocket's turn the widest gap is %.0f°, at most 60° is accepted", gap)
		}
		orders = append(orders, m)
	}
	if need := 2 + 2*len(orders); len(angle) < need {
		return harmonics{}, Refuse("angle", "read every 30° around the turn", "%d readings, at least %d are needed", len(angle), need)
	}
	b, err := harmonicBasisWithin(singular, angle, orders...)
	if err != nil {
		return harmonics{}, Refuse("angle", "read over more turns", "these angles cannot tell the sprockets apart")
	}
	for k, name := range []string{"rear", "front"}[:len(orders)] {
		switch gamma := b.amplification(k); {
		case gamma > tooMuchAmplified:
			return harmonics{}, Refuse("angle", "turn on and read over more turns", "from these angles an error of reading would count %.1f times in the %s sprocket's eccentricity", gamma, name)
		case gamma > muchAmplified:
			out.Warn("from these angles an error of reading counts %.1f times in the %s sprocket's eccentricity: turn on and read over more turns", gamma, name)
		}
	}
	return b.fit(excess), nil
}

// moveTensioner goes by the secant of two settings; from one it only says which way.
func moveTensioner(in Args, run chainRun, worst float64, out *Out) error {
	wanted := run.excess(in.Num("min_slack"))
	if !in.Has("setting_before") && !in.Has("excess_before") {
		a := Adjustment{
			What: "tensioner", Amount: run.slack(worst) - in.Num("min_slack"), Kind: quantity.Length, Direction: "nip_it_a_little", Answers: chainFigures(),
			Words: "{amount} too much slack at {figure:tight_at}: {direction}, turn and read again",
		}
		if a.Amount < 0 {
			a.Direction = "ease_it_a_little"
			a.Words = "{amount} too little slack at {figure:tight_at}: {direction}, turn and read again"
		}
		out.Adjust(a)
		return nil
	}
	for _, name := range []string{"setting_now", "setting_before", "excess_before"} {
		if !in.Has(name) {
			return Refuse(name, "give setting_now, setting_before and excess_before together", "it is missing, so there is no secant")
		}
	}
	now, before, excessBefore := in.Num("setting_now"), in.Num("setting_before"), in.Num("excess_before")
	if excessBefore < 0 {
		return Refuse("excess_before", "give the worst_excess computed at the earlier setting", "%.4f mm", excessBefore)
	}
	if math.Abs(worst-excessBefore) < 1e-6 || now == before {
		return Refuse("setting_before", "move the tensioner further and read again", "between the settings %.3f and %.3f the excess changed from %.4f to %.4f mm", before, now, excessBefore, worst)
	}
	step := (wanted - worst) * (now - before) / (worst - excessBefore)
	out.Set("setting_wanted", now+step)
	if math.Abs(step) > 3*math.Abs(now-before) {
		out.Warn("the setting is taken from a small step: go part of the way and read again")
	}
	// + takes slack up, whichever way the setting counts.
	setChainMove(in, math.Copysign(step, worst-wanted), out)
	return nil
}

// chainFigures are those that say whether the chain may stay as it is.
func chainFigures() []string { return []string{"tight_slack", "worst_excess", "move", "turns"} }

func setChainMove(in Args, move float64, out *Out) {
	out.Set("move", move)
	a := Adjustment{What: "sprocket", Amount: move, Kind: quantity.Length, Direction: "take_up", Answers: chainFigures(), Words: "{direction} {amount}, measured at {figure:tight_at}"}
	if in.TextOr("adjust", "centre-distance") == "tensioner" {
		a.What = "tensioner"
	}
	if move < 0 {
		a.Direction = "let_out"
	}
	if in.Has("adjuster_pitch") {
		out.Set("turns", move/in.Num("adjuster_pitch"))
		out.Adjust(a)
		a = Adjustment{What: "adjuster", Amount: move / in.Num("adjuster_pitch"), Kind: quantity.Number, Direction: a.Direction, Answers: chainFigures(), Words: "{direction}: {amount} turns of the adjuster"}
	}
	out.Adjust(a)
}
