// Package bus carries entries, results, live values and verbs over NATS: an embedded server with JetStream on disk, no
// TCP port, a unix socket for commands. Publishing an entry returns only when it is on disk. It refuses a second server
// on the same folder and a socket path the system cannot hold.
package bus

import "strings"

// The subjects of a bench. No text of people or plans is ever part of one.
const (
	root    = "thoud"
	entries = "entry"  // thoud.<bench>.entry.<kind>: kept in the stream
	results = "result" // thoud.<bench>.result.<step>: what came of an entry, after commit
	live    = "live"   // thoud.<bench>.live.<gauge>: newest value, never kept
	notices = "notice" // thoud.<bench>.notice: tones and troubles, never kept
	asks    = "ask"    // thoud.<bench>.ask.status: request and reply, changes nothing
	verbs   = "do"     // thoud.<bench>.do.<verb>: request and reply
)

// EntrySubject is where an entry of a kind is published.
func EntrySubject(bench, kind string) string { return subject(bench, entries, kind) }

// AllEntries matches every entry of a bench.
func AllEntries(bench string) string { return subject(bench, entries, ">") }

// ResultSubject is where the outcome of an entry at a step is published; "bench" for an entry at no step.
func ResultSubject(bench, step string) string {
	if step == "" {
		step = "bench"
	}
	return subject(bench, results, step)
}

// AllResults matches every outcome of a bench.
func AllResults(bench string) string { return subject(bench, results, "*") }

// LiveSubject is where a gauge's newest value is published.
func LiveSubject(bench, gauge string) string { return subject(bench, live, gauge) }

// AllLive matches every live value of a bench.
func AllLive(bench string) string { return subject(bench, live, "*") }

// NoticeSubject is where tones and troubles are published.
func NoticeSubject(bench string) string { return subject(bench, notices) }

// VerbSubject is where a verb is asked.
func VerbSubject(bench, verb string) string { return subject(bench, verbs, verb) }

// AllVerbs matches every verb of a bench.
func AllVerbs(bench string) string { return subject(bench, verbs, "*") }

// AskSubject is where a question that changes nothing is asked.
func AskSubject(bench, what string) string { return subject(bench, asks, what) }

// AllAsks matches every question that changes nothing.
func AllAsks(bench string) string { return subject(bench, asks, "*") }

// The subjects between a bench and its hubs. A bench may be asked at its asks, over the link as over the socket; its
// answers go to subjects that carry its name, so that no bench can answer for another.
const (
	hubRoot = "thoudhub" // thoudhub.<bench>.<token>: the bench's answer to a hub
	told    = "told"     // thoud.<bench>.ask.told.<token>: a hub's answer to the bench; no client of the socket can reach it
)

// HubAnswers matches every answer of a bench to its hubs.
func HubAnswers(bench string) string { return hubRoot + "." + bench + ".>" }

// HubAnswer is where a hub hears one answer of a bench.
func HubAnswer(bench, token string) string { return hubRoot + "." + bench + "." + token }

// EveryHubAnswer matches the answers of all benches.
const EveryHubAnswer = hubRoot + ".*.*"

// HubAsk is where a bench asks a hub.
func HubAsk(bench, hub string) string { return hubRoot + "." + bench + "." + asks + "." + hub }

// ToldSubject is where a bench hears a hub's answer.
func ToldSubject(bench, token string) string { return subject(bench, asks, told, token) }

// EveryResult matches the outcomes of all benches.
const EveryResult = root + ".*." + results + ".*"

func subject(parts ...string) string { return root + "." + strings.Join(parts, ".") }
