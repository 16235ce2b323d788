// Package hub keeps copies of the ledgers of several benches at one place, over NATS. The hub asks each bench for what comes
// after the last entry it has, and the bench answers from its committed ledger: question and answer, nothing is streamed.
// It refuses a page that is not sealed from the first entry to the last, another bench's or another machine's answer, and a
// bench without an invitation; whatever it refuses it says in words, and goes on with the other benches.
//
// What is wrong at a bench is in no ledger. A bench says it with each answer, in a few short texts, and it is told at the hub and
// not kept.
//
// Why it is so. A stream at the hub, filled from the benches' streams, was tried beside it: after a cut link it stood still
// for up to a minute while it showed no lag and no error, it cost five times the processor, and it is a second place that
// can lose what it took. A bench's ledger is whole by itself, numbered and sealed, so the hub needs nothing but to ask for
// the next number. What is asked again costs nothing; what was lost on the way is asked for again; a link that was away
// for a year differs from one that was away for a second only in the number of pages.
//
// A page carries the seal before its first entry and the one after its last: without the second, an altered last body
// would get in and stop that bench's copy for good. Wake-ups come with results, which are told after the commit; a live
// entry would come before it. Answers go to subjects of the bench's own, so that no bench can answer for another.
//
// A bench that goes on from an older copy of itself makes a second history. The hub keeps the first as it is and the second
// from the parting on, as a line of its own (NAME~2): nothing is mixed, nothing is refused, one alarm says so. judge.go and
// parting.go decide that and know neither network nor file; the tests play a bench that is put back again and again.
package hub
