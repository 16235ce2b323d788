// Package capture keeps the bench: one goroutine, the Loop, hears what the lines of the gauges, people and the recorder
// tell, asks the rules in capture/bench what comes of it, and makes the entries. It judges nothing itself: it keeps the
// time, the ids, the queue, the ports, and the one entry in flight.
//
// # Why it is so
//
// One goroutine, because two readings at once would need an order, and the order of entries is the ledger. A lock around
// the state was considered; it would have protected the state, but not the row of entries that one press leads to (the
// pass it opens, the reading, the question, the closing), which must not be parted by another press.
//
// One entry in flight, because an entry names the seal of the one before it. A second one published before the first is
// safe would have to be sealed anew, under other bytes, if the first failed. So the bench takes no next reading until the
// last one is acknowledged; a failed publish is tried again with the same bytes under the same id, and the log drops the
// copy.
//
// The state moves on the acknowledgement, but "taken" is said only once the entry is in the ledger: until then it is not
// true for the builder. While an entry is held, events wait in their queues; a gauge's newest value is kept by its line's
// goroutine, so that the screen goes on showing it.
//
// What the loop knows besides the record (the newest values, the sweep that runs, which gauge is armed for its zero, when
// the last reading was taken) goes to the rules as plain values in a bench.Scene. Nothing of it survives a restart, and
// nothing needs to: bench.Unfinished says from the record what was left half done.
package capture
