package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRockerGeometry(t *testing.T) {
	// Computed independently.
	in := given{"valve_arm": 38.0, "pushrod_arm": 32.0, "lift": 9.4, "closed_angle": 3.0}
	out := figuresOf(t, "rocker-geometry", in)
	figureNear(t, out, "closed_angle_wanted", 14.2096/2, 5e-5)
	figureNear(t, out, "raise_pivot", -2.7112, 5e-5)
	figureNear(t, out, "pushrod_change", -4.9944, 5e-5)
	figureNear(t, out, "sweep_now", 0.7297, 5e-5)
	figureNear(t, out, "sweep_then", 0.2918, 5e-5)
	figureNear(t, out, "ratio", 38.0/32, 1e-12)
	for i, want := range []string{"lower", "shorten"} {
		if got := out.adjustments[i].Direction; got != want {
			t.Errorf("direction %q, want %q", got, want)
		}
	}
	// A plate of 1.5 mm under the barrel with the geometry as wanted: 1.4854 mm longer at 8° of lean.
	right := in.with("closed_angle", out.nums["closed_angle_wanted"]).with("plate", 1.5).with("lean", 8.0)
	plate := figuresOf(t, "rocker-geometry", right)
	figureNear(t, plate, "pushrod_along_rod", 1.4854, 5e-5)
	// Raising instead would give −1.09° and a sweep of 1.366.
	figureNear(t, figuresOf(t, "rocker-geometry", in.with("closed_angle", -1.09)), "sweep_now", 1.366, 1e-3)
}

// Four rockers on one shaft get one answer: the mean of what each wants by itself, and what is left to each is its own
// sweep at its sine after the change. Computed independently, no published example: sin 3°, 5°, 7°, 9° = 0.052336, 0.087156,
// 0.121869, 0.156434, their mean 0.104449 against 9.4/76 = 0.123684 wanted.
func TestRockersOfOneShaft(t *testing.T) {
	in := given{"valve_arm": 38.0, "pushrod_arm": 32.0, "lift": 9.4, "closed_angles": []float64{3, 5, 7, 9}}
	out := figuresOf(t, "rocker-geometry", in)
	figureNear(t, out, "raise_pivot", 38*(0.104449-0.123684), 5e-5)
	figureNear(t, out, "apart", 6, 1e-12)
	alone := figuresOf(t, "rocker-geometry", given{"valve_arm": 38.0, "pushrod_arm": 32.0, "lift": 9.4, "closed_angle": 3.0})
	figureNear(t, out, "sweep_now", alone.nums["sweep_now"], 1e-12) // the one that stands lowest sweeps most
	if got := len(out.lists["sweeps"]); got != 4 {
		t.Errorf("%d sweeps", got)
	}
	// One rocker on a shaft is a rocker by itself.
	one := figuresOf(t, "rocker-geometry", given{"valve_arm": 38.0, "pushrod_arm": 32.0, "lift": 9.4, "closed_angles": []float64{3}})
	for _, name := range []string{"raise_pivot", "sweep_now", "sweep_then", "pushrod_change"} {
		figureNear(t, one, name, alone.nums[name], 1e-12)
	}
	refused(t, "rocker-geometry", in.with("closed_angle", 3.0), "closed_angle")
	refused(t, "rocker-geometry", in.with("closed_angles", []float64{3, 95}), "closed_angles")
	if _, err := outOf("rocker-geometry", given{"valve_arm": 38.0, "pushrod_arm": 32.0, "lift": 9.4}); err == nil {
		t.Error("no angle was answered")
	}
}

// A rocker built in the plane: pivot, tip resting on the closed valve, cup on the pushrod. Moving the pivot and the
// pushrod by the amounts named must leave the valve closed, the cup on the rod and the tip square at half lift.
func TestRockerReachesHalfLiftSquare(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		av := rapid.Float64Range(25, 50).Draw(t, "av")
		ap := rapid.Float64Range(20, 45).Draw(t, "ap")
		lift := rapid.Float64Range(5, 12).Draw(t, "lift")
		a0 := rapid.Float64Range(-8, 25).Draw(t, "closed")
		out, err := outOf("rocker-geometry", given{"valve_arm": av, "pushrod_arm": ap, "lift": lift, "closed_angle": a0})
		if err != nil {
			t.Fatal(err)
		}
		sine := math.Sin(a0 * math.Pi / 180)
		// Heights along the stem, + towards the open air; the closed valve's tip is at 0.
		pivot := 0 - av*sine
		cup := pivot - ap*sine // straight rocker: the cup is as far below the pivot as the tip is above, by its arm
		pivot += out.adjustments[0].Amount
		cup += out.adjustments[1].Amount
		then := (0 - pivot) / av // sine of the closed angle after the change, the valve still closed
		if d := cup - (pivot - ap*then); math.Abs(d) > 1e-9 {
			t.Fatalf("the cup is %.4g mm off the pushrod", d)
		}
		half := then - lift/2/av // sine at half lift
		if math.Abs(half) > 1e-12 {
			t.Fatalf("at half lift the arm is not square: sine %.3g", half)
		}
		if out.nums["sweep_then"] > out.nums["sweep_now"]+1e-12 {
			t.Fatalf("sweep grew from %g to %g", out.nums["sweep_now"], out.nums["sweep_then"])
		}
	})
}

func TestRockerRefuses(t *testing.T) {
	in := given{"valve_arm": 38.0, "pushrod_arm": 32.0, "lift": 9.4, "closed_angle": 3.0}
	refused(t, "rocker-geometry", in.with("lift", 80.0), "lift")
	refused(t, "rocker-geometry", in.with("closed_angle", 95.0), "closed_angle")
	refused(t, "rocker-geometry", in.with("closed_angle", -60.0), "closed_angle")
	refused(t, "rocker-geometry", in.with("lean", 90.0), "lean")
}
