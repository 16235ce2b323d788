package pipeline

import (
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// passOfOther is the pass of another step that counts for this run: the last closed one. Where this step waits for one
// cylinder of the other alone, what that cylinder gave counts before the pass is closed.
func (b *binder) passOfOther(other plan.Step) *bench.Pass {
	side := b.build.Plan.Side(b.step, b.run)
	if !b.step.Sided(other.ID, side) {
		side = ""
	}
	return bench.PassFor(b.build, other, side, b.results)
}
