package calc

import (
	"testing"

	"pgregory.net/rapid"
)

// drawnDrops are readings of a piston with noise, some of them hopeless.
func drawnDrops(t *rapid.T) dropPoints {
	n := rapid.IntRange(3, 20).Draw(t, "readings")
	p := dropPoints{crank: sliderCrank{r: 40, l: rapid.Float64Range(120, 200).Draw(t, "rod")}}
	top := rapid.Float64Range(-180, 180).Draw(t, "top")
	sense := rapid.SampledFrom([]float64{1, -1}).Draw(t, "sense")
	noise := rapid.SampledFrom([]float64{0, 0.001, 1, 100}).Draw(t, "noise")
	u := rapid.SampledFrom([]float64{0, 0.001}).Draw(t, "uncertainty")
	for i := range n {
		a := top + rapid.Float64Range(-60, 60).Draw(t, "angle")
		p.phi = append(p.phi, a)
		p.r = append(p.r, 20+sense*p.crank.drop(a-top)+noise*rapid.Float64Range(-1, 1).Draw(t, "error"))
		p.uPhi = append(p.uPhi, 0.003*float64(i%2))
		p.uR = append(p.uR, u)
	}
	return p
}

func (f dropFit) bits() []float64 {
	return append([]float64{f.tdc, f.c0, f.sense, f.rms, f.u}, append(f.residuals, f.slopes...)...)
}

// A fitter that was asked other things before gives the same to the last bit as one that was not, whatever was moved between
// the two: a reading, an angle, an uncertainty, the crank.
func TestWhatAFitterKeepsChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawnDrops(t)
		var used dropFitter
		for range rapid.IntRange(1, 6).Draw(t, "computations") {
			at := rapid.IntRange(0, len(p.phi)-1).Draw(t, "at")
			moved := rapid.SampledFrom([]float64{0, 1e-12, 1e-3, 5}).Draw(t, "moved")
			q := dropPoints{p.crank, append([]float64(nil), p.phi...), append([]float64(nil), p.r...), append([]float64(nil), p.uPhi...), append([]float64(nil), p.uR...)}
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0:
				q.phi[at] += moved
			case 1:
				q.r[at] += moved
			case 2:
				q.uPhi[at] += moved
			case 3:
				q.uR[at] += moved
			case 4:
				q.crank.l += moved
			case 5:
				q.crank.top += moved / 1000
			}
			begin, known := used.start(q)
			if want, wantKnown := new(dropFitter).start(q); known != wantKnown || !sameBits([]float64{begin}, []float64{want}) {
				t.Fatalf("starts at %v, %t; anew at %v, %t", begin, known, want, wantKnown)
			}
			best, other, fits := used.both(q)
			wantBest, wantOther, wantFits := new(dropFitter).both(q)
			if fits != wantFits || !sameBits(best.bits(), wantBest.bits()) || !sameBits(other.bits(), wantOther.bits()) {
				t.Fatalf("fits %t: %+v, %+v\nanew %t: %+v, %+v", fits, best, other, wantFits, wantBest, wantOther)
			}
			p = q
		}
	})
}

// While the readings of one direction are moved, those of the other are not fitted again.
func TestADirectionIsFittedOnceWhileTheOtherMoves(t *testing.T) {
	mem := &memory{}
	m := tdcFit()
	in := tdcReadings()
	in = in.list("reverse_crank_angle", Args{m.Inputs, in}.List("crank_angle")...).list("reverse_reading", Args{m.Inputs, in}.List("reading")...)
	run := func() {
		if _, err := computeInto(&Out{method: &m, nums: map[string]float64{}, memory: mem}, in); err != nil {
			t.Fatal(err)
		}
	}
	run()
	forward, back := &mem.drops["crank_angle"].best.residuals[0], &mem.drops["reverse_crank_angle"].best.residuals[0]
	in["reading"].List[3].X += 0.001
	run()
	if forward == &mem.drops["crank_angle"].best.residuals[0] {
		t.Error("a reading was moved and its direction not fitted again")
	}
	if back != &mem.drops["reverse_crank_angle"].best.residuals[0] {
		t.Error("a direction was fitted again of which nothing was moved")
	}
}
