package calc

import "thoud/calc/quantity"

// lashPositions: where to stand the crank to set each valve of a twin: in the middle of its base circle, opposite its
// own lobe centre.
//
//	position = lobe centre + 360 (mod 720), a cylinder later by the firing interval
//
// With both pistons together (interval 360) that is full lift of the same valve of the other cylinder. Crank degrees
// after overlap top dead centre of cylinder 1; inlet centre after and exhaust centre before top dead centre. Common
// practice.
func lashPositions() Method {
	return Method{
		Name: "lash-positions", Version: 1, Title: "Crank positions for setting lash",
		Inputs: []Input{
			{Name: "inlet_centre", Kind: quantity.Angle, Doc: "inlet lobe centre, degrees after overlap top dead centre"},
			{Name: "exhaust_centre", Kind: quantity.Angle, Doc: "exhaust lobe centre, degrees before overlap top dead centre"},
			{Name: "firing_interval", Kind: quantity.Angle, Optional: true, Doc: "crank degrees from cylinder 1 firing to cylinder 2; 360 where not given"},
		},
		Figures: []Figure{
			{Name: "inlet_1", Kind: quantity.Angle, Doc: "where to set the inlet of cylinder 1, degrees after its overlap top dead centre"},
			{Name: "exhaust_1", Kind: quantity.Angle, Doc: "where to set the exhaust of cylinder 1"},
			{Name: "inlet_2", Kind: quantity.Angle, Doc: "where to set the inlet of cylinder 2"},
			{Name: "exhaust_2", Kind: quantity.Angle, Doc: "where to set the exhaust of cylinder 2"},
		},
		Formula:  "position = lobe centre + 360 + (interval for cylinder 2), modulo 720",
		Source:   "common practice",
		Cautions: []string{"Engine cold, plugs out, ignition off; turn by hand in the running direction."},
		Compute:  computeLashPositions,
	}
}

func computeLashPositions(in Args, out *Out) error {
	interval := in.NumOr("firing_interval", 360)
	if interval < 0 || interval >= cycle {
		return Refuse("firing_interval", "give the crank degrees from cylinder 1 to cylinder 2, 360 for pistons that rise together", "%.1f° is not within the cycle", interval)
	}
	for _, name := range []string{"inlet_centre", "exhaust_centre"} {
		if c := in.Num(name); c <= 0 || c >= 360 {
			return Refuse(name, "give it as the cam timing does: inlet after, exhaust before overlap top dead centre", "%.1f° is no lobe centre", c)
		}
	}
	inlet, exhaust := in.Num("inlet_centre")+360, -in.Num("exhaust_centre")+360
	out.Set("inlet_1", wrap(inlet, cycle))
	out.Set("exhaust_1", wrap(exhaust, cycle))
	out.Set("inlet_2", wrap(inlet+interval, cycle))
	out.Set("exhaust_2", wrap(exhaust+interval, cycle))
	return nil
}
