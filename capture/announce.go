package capture

import (
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/capture/line"
)

// announcer says what is not in the record: tones, troubles, and, once an entry is in the ledger, that it is done.
type announcer struct {
	publisher Publisher
	log       zerolog.Logger
	now       func() time.Time
	committed uint64 // number of the last entry known to be in the ledger
	waiting   []waiting
	faults    map[string]repeated // by gauge
}

// waiting is what is said once its entry is in the ledger: only then is it true for the builder.
type waiting struct {
	n      uint64
	notice bench.Notice
}

func (a *announcer) notice(tone, words string) {
	a.publisher.Notice(bench.Notice{At: a.now().UnixMicro(), Tone: tone, Words: words})
}

// trouble stands until calm takes it back.
func (a *announcer) trouble(source, words string) {
	a.log.Warn().Msg(words)
	a.publisher.Notice(bench.Notice{At: a.now().UnixMicro(), Tone: bench.ToneFault, Source: source, Words: words, Stands: true})
}

func (a *announcer) calm(source string) {
	a.publisher.Notice(bench.Notice{At: a.now().UnixMicro(), Source: source})
}

// once says something as soon as entry n is in the ledger.
func (a *announcer) once(n uint64, tone, words string) {
	if tone == "" && words == "" {
		return
	}
	a.waiting = append(a.waiting, waiting{n, bench.Notice{Tone: tone, Words: words}})
	a.commit(a.committed)
}

// commit says what was waiting for entry n or one before it.
func (a *announcer) commit(n uint64) {
	a.committed = max(a.committed, n)
	for len(a.waiting) > 0 && a.waiting[0].n <= a.committed {
		notice := a.waiting[0].notice
		notice.At = a.now().UnixMicro()
		a.publisher.Notice(notice)
		a.waiting = a.waiting[1:]
	}
}

// repeated is when a gauge's frame without a value was last told, and how many came since.
type repeated struct {
	at   time.Time
	more int
}

// noValue tells of a frame that gives no value. One that streams says so 50 times a second where its profile is wrong or
// it is over its range: it is told now and then only, so that neither ears nor disk are filled with it.
func (a *announcer) noValue(g bench.GaugeState, at time.Time, words string) {
	apart := 5 * time.Second
	if g.Sends == bench.SendsKey {
		apart = 500 * time.Millisecond // each is a press of its key, and whoever pressed wants to know
	}
	was := a.faults[g.Name]
	if !was.at.IsZero() && at.Sub(was.at) < apart {
		was.more++
		a.faults[g.Name] = was
		return
	}
	a.faults[g.Name] = repeated{at: at}
	a.log.Warn().Str(line.KeyGauge, g.Name).Int("untold", was.more).Msg(words)
	a.publisher.Notice(bench.Notice{At: at.UnixMicro(), Tone: bench.ToneFault, Source: "gauge " + g.Name, Words: words})
}
