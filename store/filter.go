package store

import (
	"encoding/json"
	"slices"
	"strings"
	"unicode/utf8"

	"thoud/capture/bench"
)

// Filter narrows entries or readings. Empty fields let everything pass.
type Filter struct {
	Build string
	Step  string
	Point string // a name, or a pattern with * and ?
	Gauge string
	Kind  bench.Kind
	Text  string // anywhere in what was read, said or named; capitals do not matter
	From  uint64 // first number
	To    uint64 // last number; 0 = the end of the ledger
	Limit int    // 0 = all
	// OldestFirst turns the order round; newest first otherwise.
	OldestFirst bool
}

// readings gives the conditions of a filter on readings.
func (f Filter) readings(benchName string) (string, []any) {
	const table = "reading"
	cond := []string{table + ".bench = ?"}
	args := []any{benchName}
	and := func(c string, a ...any) {
		cond = append(cond, c)
		args = append(args, a...)
	}
	if f.Build != "" {
		and(table+".build = ?", f.Build)
	}
	if f.Step != "" {
		and(table+".step = ?", f.Step)
	}
	if f.Point != "" {
		and(table+".point GLOB ?", f.Point)
	}
	if f.From > 0 {
		and(table+".n >= ?", int64(f.From))
	}
	if f.To > 0 {
		and(table+".n <= ?", int64(f.To))
	}
	if f.Kind != "" {
		and("entry.kind = ?", string(f.Kind))
	}
	if f.Gauge != "" {
		and(table+".gauge = ?", f.Gauge)
	}
	switch {
	case f.indexed():
		and("entry.rowid IN (SELECT rowid FROM said WHERE said MATCH ?)", likely(f.Text))
	case f.Text != "":
		and(inBody, "%"+likeText(f.Text)+"%")
	}
	return strings.Join(cond, " AND "), args
}

// shortest is the shortest text that the index of what is said can look for: it is made of every three signs in a row.
const shortest = 3

// indexed reports whether the text can be looked for by the index.
func (f Filter) indexed() bool { return utf8.RuneCountInString(f.Text) >= shortest }

// inBody is a coarse sieve for a text that is too short for the index: it stands anywhere in the entry's JSON.
const inBody = `CAST(entry.body AS TEXT) LIKE ? ESCAPE '!'`

// likeText is a text as it stands inside a JSON body, made safe for LIKE.
func likeText(text string) string {
	b, err := json.Marshal(text)
	if err != nil {
		return text
	}
	return strings.NewReplacer("!", "!!", "%", "!%", "_", "!_").Replace(string(b[1 : len(b)-1]))
}

// likely asks the index of what is said for the entries that may hold a text: those with every three signs in a row of
// it.
func likely(text string) string {
	signs := []rune(text)
	quoted := func(r []rune) string { return `"` + strings.ReplaceAll(string(r), `"`, `""`) + `"` }
	var all []string
	for i := range len(signs) - shortest + 1 {
		all = append(all, quoted(signs[i:i+shortest]))
	}
	return strings.Join(all, " AND ")
}

func (f Filter) order() string {
	if f.OldestFirst {
		return " ORDER BY reading.n"
	}
	return " ORDER BY reading.n DESC"
}

// says is the fine sieve: the text stands in what a person would look for, not in the names of the form.
func (f Filter) says(e bench.Entry) bool {
	return f.Text == "" || slices.ContainsFunc(wordsOf(e), func(w string) bool { return strings.Contains(strings.ToLower(w), strings.ToLower(f.Text)) })
}

// wordsOf are the texts of an entry that a person would look for.
func wordsOf(e bench.Entry) []string {
	words := []string{string(e.Kind), e.ID, e.Place.Build, e.Place.Step, e.Place.Point, e.By, e.Reason, e.Choice, e.Item, e.Initials, e.Refers}
	if r := e.Reading; r != nil {
		words = append(words, r.Gauge, r.Channel, r.Mode, r.Text)
	}
	if e.Zero != nil {
		words = append(words, e.Zero.Gauge, e.Zero.Text)
	}
	if e.Gauge != nil {
		words = append(words, e.Gauge.Name, e.Gauge.Profile, e.Gauge.Role, e.Gauge.Identity, e.Gauge.Port)
	}
	if e.Link != nil {
		words = append(words, e.Link.Gauge, e.Link.Port)
	}
	if e.Check != nil {
		words = append(words, e.Check.Gauge)
	}
	if e.Build != nil {
		words = append(words, e.Build.Job, e.Build.Engine, e.Build.Plan)
	}
	if e.Question != nil {
		words = append(words, e.Question.Guard, e.Question.Words)
	}
	if e.Override != nil {
		words = append(words, e.Override.What, e.Override.Name)
	}
	if e.Picture != nil {
		words = append(words, e.Picture.Note)
	}
	return words
}

// said is what an entry says, in one text.
func said(e bench.Entry) string {
	var b strings.Builder
	for _, w := range wordsOf(e) {
		if w != "" {
			b.WriteString(w)
			b.WriteByte('\n')
		}
	}
	return b.String()
}
