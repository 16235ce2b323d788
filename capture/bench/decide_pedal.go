package bench

import (
	"errors"
	"fmt"
)

// bounce is how long, in µs, cautions must have stood before a press of the pedal says that they were read, and how long
// after that the next press is not taken for a reading: a pedal that bounces runs through nothing.
const bounce = int64(600_000)

// decideKey carries out what the key of a pedal or of a home-made bridge stands for.
func decideKey(sc Scene, g GaugeState, key string) (Decision, error) {
	name, ok := sc.Keys[key]
	if !ok {
		return refuse(fmt.Sprintf("the key %q of %q stands for nothing: name it in thoud.toml under [keys]", key, g.Name))
	}
	v := Verb{Name: name, By: ByPedal}
	if name == DoTake || name == DoSweep {
		return decidePedal(sc, v)
	}
	return decideVerb(sc, v)
}

// decidePedal carries out a press that takes a reading. Where the cautions of the step are not read yet, the screen shows
// them and nothing else, so the first press says that they were read; it would be wrong to take a reading behind them.
func decidePedal(sc Scene, v Verb) (Decision, error) {
	now, first := NowOf(sc)
	just := func(at int64) bool { return at > 0 && sc.Now-at < bounce }
	switch {
	case now == NowCaution && just(sc.CameAt):
		return Decision{}, errors.New("read the cautions of this step first, then press again")
	case now == NowCaution:
		first.By = v.By
		return decideVerb(sc, *first)
	case just(sc.ReadAt):
		return Decision{}, errors.New("the cautions were read this moment: press again to take the reading")
	}
	return decideVerb(sc, v)
}
