package calc

import (
	"math"
	"math/rand/v2"
	"testing"
)

// longRequests are sweeps of 1,440 samples, each with an uncertainty of its own.
func longRequests() map[string]Request {
	noise := rand.New(rand.NewPCG(7, 1440))
	u := func(v Val, u float64) Val {
		for i := range v.List {
			v.List[i].X += u * noise.NormFloat64() * 0.5
			v.List[i].Us = []Component{{U: u}}
		}
		return v
	}
	half := turn(0, 720, 0.5)
	var runout, chain []float64
	for _, a := range half {
		x := a * math.Pi / 180
		runout = append(runout, 0.05*math.Cos(x-1)+0.01*math.Cos(2*x))
		chain = append(chain, 35+4*math.Cos(x-2)+2*math.Cos(2.7*x))
	}
	plateau := make([]float64, len(half))
	for i, a := range half {
		plateau[i] = 4.75 + math.Min(0, (a-200)/200)
	}
	cam := bothLobes(half)
	v2p := overValve(inletLobe, 20, turn(-180, 540, 0.5)).num("push", 2.60).num("at", 8).num("required", 1.5).num("advance", 4)
	return map[string]Request{
		"statistics":        {Method: "statistics", Kind: "length", Inputs: map[string]Val{"values": u(list(runout...), 0.002)}},
		"runout":            {Method: "runout", Inputs: map[string]Val{"angle": u(list(half...), 0.05), "reading": u(list(runout...), 0.002)}},
		"chain-slack":       {Method: "chain-slack", Inputs: map[string]Val{"angle": u(list(half...), 0.3), "slack": u(list(chain...), 0.3), "straight_run": num(580, Component{U: 1}), "radius_front": num(33), "radius_rear": num(72), "min_slack": num(20), "other_turns": num(2.7), "adjuster_pitch": num(1.25)}},
		"contact-clearance": {Method: "contact-clearance", Inputs: map[string]Val{"protrusion": u(list(plateau...), 0.002), "crank_angle": list(half...), "clearance": num(1.27), "side": {Text: "outside"}, "now": num(6, Component{U: 0.01})}},
		"cam-timing":        {Method: "cam-timing", Inputs: map[string]Val{"crank_angle": u(cam["crank_angle"], 0.03), "inlet_lift": u(cam["inlet_lift"], 0.003), "exhaust_lift": u(cam["exhaust_lift"], 0.003), "checking_height": num(1)}},
		"valve-to-piston": {Method: "valve-to-piston", Inputs: func() map[string]Val {
			v2p["crank_angle"], v2p["lift"] = u(v2p["crank_angle"], 0.03), u(v2p["lift"], 0.003)
			return v2p
		}()},
	}
}

func BenchmarkRunOf1440(b *testing.B) {
	for name, req := range longRequests() {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				mustRun(b, req)
			}
		})
	}
}

// BenchmarkComputeOf1440 is one computation without its uncertainty.
func BenchmarkComputeOf1440(b *testing.B) {
	for name, req := range longRequests() {
		m, _ := Find(name)
		m = m.of(req.anyKind())
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := compute(&m, req.Inputs); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
