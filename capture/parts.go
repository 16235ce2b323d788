package capture

import (
	"context"
	"fmt"

	"thoud/capture/bench"
)

// Loader gives a build that is not in memory, with its results in force.
type Loader func(ctx context.Context, job string) (*bench.Build, bench.Results, error)

// RecordLoader gives the record of an engine that is not in memory.
type RecordLoader func(ctx context.Context, engine string) (*bench.Engine, error)

// loadRecord brings an engine's record into memory.
func (l *Loop) loadRecord(ctx context.Context, engine string) {
	if l.LoadRecord == nil {
		return
	}
	g, err := l.LoadRecord(ctx, engine)
	if err != nil {
		l.say.trouble("ledger", fmt.Sprintf("the record of engine %q cannot be read from the ledger: %v", engine, err))
		return
	}
	state := l.State().JoinRecord(g)
	l.state.Store(&state)
}

// load brings what a verb names into memory. A build that cannot be read is told by the rules as one that is
// not there, and here with why.
func (l *Loop) load(ctx context.Context, parts []bench.Part) {
	for _, part := range l.State().Lacks(parts) {
		if part.Engine != "" {
			l.loadRecord(ctx, part.Engine)
			continue
		}
		if l.Load == nil {
			return
		}
		b, results, err := l.Load(ctx, part.Build)
		if err != nil {
			l.say.trouble("ledger", fmt.Sprintf("job %s cannot be read from the ledger: %v", part.Build, err))
			continue
		}
		state, all := l.State().Join(b), l.Results().Beside(results)
		l.state.Store(&state)
		l.results.Store(&all)
	}
}

// rest lets go of the builds that were touched longest ago: memory does not grow with the ledger.
func (l *Loop) rest() {
	state, gone := l.State().Rest(bench.InWork)
	if gone == nil {
		return
	}
	results := l.Results()
	for _, job := range gone {
		results = results.Without(job)
	}
	l.state.Store(&state)
	l.results.Store(&results)
}

// setAside hears that the recorder set an entry aside. One of this bench's own means that the ledger no longer follows
// what the bench says is done: then nothing more is made, whoever asks is told why, and so is the screen.
func (l *Loop) setAside(o bench.Outcome) {
	if !l.unrecorded[o.ID] {
		return
	}
	l.halted = fmt.Sprintf("entry %d of this bench was set aside by the ledger: %s. The bench has stopped and takes nothing more, so that no reading is lost: stop the service, look with thoud verify and thoud quarantine list, and start it again", o.N, o.Trouble)
	l.say.trouble("bench", l.halted)
}
