package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// mostCylinders bounds the cylinders of one engine.
const mostCylinders = 32

// cylinderMasses are the masses of one cylinder's moving parts; those that every cylinder has are optional where they may
// be given otherwise.
func cylinderMasses(optional bool) []Input {
	mass := func(name, doc string, always bool) Input {
		return Input{Name: name, Kind: quantity.Mass, Positive: always, Optional: optional || !always, Doc: doc}
	}
	return []Input{
		mass("piston", "one piston", true),
		mass("pin", "its pin", false),
		mass("rings", "its rings", false),
		mass("clips", "its clips", false),
		mass("small_end", "small end of one rod, weighed level", true),
		mass("big_end", "big end of one rod, weighed level", true),
		mass("bearing", "big-end shells or rollers of one rod", false),
	}
}

// movingMass is what goes to and fro and what goes round of one cylinder, and the small end alone, g.
type movingMass struct {
	name            string
	rec, rot, small float64
}

func movingMassOf(in Args, path string) (movingMass, error) {
	for _, name := range []string{"pin", "rings", "clips", "bearing"} {
		if in.Num(name) < 0 {
			return movingMass{}, Refuse(path+name, "give its mass, 0 or more", "%g g", in.Num(name))
		}
	}
	return movingMass{
		rec:   in.Num("piston") + in.Num("pin") + in.Num("rings") + in.Num("clips") + in.Num("small_end"),
		rot:   in.Num("big_end") + in.Num("bearing"),
		small: in.Num("small_end"),
	}, nil
}

// crankMassesOf gives the masses of every cylinder on the crank.
func crankMassesOf(in Args) ([]movingMass, error) {
	n := in.NumOr("cylinders", 2)
	if n != math.Trunc(n) || n < 1 || n > mostCylinders {
		return nil, Refuse("cylinders", "give the number of cylinders", "%g", n)
	}
	if !in.Has("each") {
		for _, name := range []string{"piston", "small_end", "big_end"} {
			if !in.Has(name) {
				return nil, Refuse(name, "give its mass, or each with the masses of every cylinder", "it is missing")
			}
		}
		m, err := movingMassOf(in, "")
		if err != nil {
			return nil, err
		}
		all := make([]movingMass, int(n))
		for i := range all {
			all[i] = m
		}
		return all, nil
	}
	for _, f := range cylinderMasses(true) {
		if in.Has(f.Name) {
			return nil, Refuse(f.Name, "give the masses in each alone", "it is given beside each")
		}
	}
	recs := in.Recs("each")
	if in.Has("cylinders") && int(n) != len(recs) || len(recs) > mostCylinders {
		return nil, Refuse("each", "give the masses of every cylinder, once", "%s, where cylinders is %g", plurals(len(recs), "cylinder"), n)
	}
	var all []movingMass
	for i, r := range recs {
		m, err := movingMassOf(r, fmt.Sprintf("each[%d].", i))
		if err != nil {
			return nil, err
		}
		m.name = plainName(r.TextOr("name", fmt.Sprintf("cylinder %d", i+1)))
		all = append(all, m)
	}
	return all, nil
}

// unlike is the difference between cylinders that is warned of, g (common practice).
const unlike = 1.0

// setEach sets what the cylinders weigh one by one, and what makes them alike.
func setEach(in Args, cylinders []movingMass, out *Out) {
	var rec, rot, bob, lightRec, lightRot []float64
	leastRec, leastRot := math.Inf(1), math.Inf(1)
	for _, c := range cylinders {
		leastRec, leastRot = math.Min(leastRec, c.rec), math.Min(leastRot, c.rot)
	}
	over := 0.0
	for _, c := range cylinders {
		rec, rot = append(rec, c.rec), append(rot, c.rot)
		bob = append(bob, c.rot+in.Num("factor_wanted")*c.rec)
		lightRec, lightRot = append(lightRec, c.rec-leastRec), append(lightRot, c.rot-leastRot)
		over = math.Max(over, math.Max(c.rec-leastRec, c.rot-leastRot))
	}
	out.SetList("reciprocating_each", rec)
	if len(rec) == 2 {
		out.Set("difference", rec[0]-rec[1])
	}
	out.SetList("rotating_each", rot)
	out.SetList("lighten", lightRec)
	out.SetList("lighten_rotating", lightRot)
	if in.Has("factor_wanted") {
		out.SetList("bob_weights", bob)
	}
	if over > unlike {
		out.Warn("the cylinders differ by %.1f g: make them alike before the factor is drilled", over)
	}
	for i, c := range cylinders {
		for _, part := range []struct {
			what, figure string
			by           float64
		}{{"piston and small end", "lighten", lightRec[i]}, {"big end", "lighten_rotating", lightRot[i]}} {
			if part.by >= leastDrilling {
				out.Adjust(Adjustment{What: part.what + " of " + c.name, Amount: part.by, Kind: quantity.Mass, Direction: "lighten", Answers: []string{part.figure},
					Words: "{direction} " + part.what + " of " + c.name + " by {amount}"})
			}
		}
	}
}

// leastDrilling is what is not worth taking off, g.
const leastDrilling = 0.05
