// Package bench holds what happens at a bench, entries sealed one to the next, the state they fold to, and the rules that
// say what may happen next. It is pure: no clock, no files, no goroutines. The ledger is the entries in order; an entry is
// never changed and never deleted. Everything else a screen or a sheet shows is derived from entries by Apply, or computed
// from them by the methods.
//
// # What to ask
//
//	Apply(state, entry)    the state after an entry
//	SpotOf(scene)          where the next reading belongs, how it is taken, and what is missing
//	NowOf(scene)           what the bench waits for, and the verb that gives it
//	Offers(scene)          which verbs would be accepted, what is waited for first
//	Decide(scene, event)   what an event leads to: entries, or a refusal in words
//	Follow(scene, entry)   what comes by itself once an entry is safe: a question, the end of a pass
//	KindTable, VerbTable   the kinds of entry and the verbs, a row each
//
// # Why it is so
//
// The rules stand beside the fold, not inside it. If Apply judged, a ledger written under last year's rule would fold to
// something else under this year's, and the record would change without an entry. So what was decided stands in the entry
// (the pass it opened, the zero a reading counts against, the drift allowed when a pass was closed), and Apply takes it as
// it is. A rule may be mended at any time: it binds from the next event on.
//
// The rules are functions of a Scene and nothing else. The page, the commands, the loop and the demo once worked out for
// themselves which point is next and which gauge reads there; the copies drifted, and a page offered what the bench
// refused. Offers asks Decide with arguments drawn from the scene, which costs a few microseconds a verb, and cannot
// differ from it; a table of conditions beside the rules would have been faster, and a second copy.
//
// Decide gives entries rather than applying them, because an entry is only true once it is safe outside this process; what
// follows from it must be asked of the state after it. Follow is therefore a question of its own, put after each
// acknowledgement, and put once more at start about the last entry: a service that was killed between a reading and the
// question about it asks that question when it is started again.
//
// States and results are immutable values that share what did not change. A mutable state under a lock was considered;
// every reader would have had to copy what it looked at, or hold the bench up while it looked.
package bench
