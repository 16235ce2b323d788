package store

import (
	"encoding/json"
	"strings"

	"thoud/capture/bench"
)

// Filter narrows entries or readings. Empty fields let everything pass.
type Filter struct {
	Build string
	Step  string
	Point string // a name, or a pattern with * and ?
	Gauge string // readings only
	Kind  bench.Kind
	Text  string // anywhere in what was read, said or named; capitals do not matter
	From  uint64 // first number
	To    uint64 // last number; 0 = the end of the ledger
	Limit int    // 0 = all
	// OldestFirst turns the order round; newest first otherwise.
	OldestFirst bool
}

// where gives the conditions of a filter on the columns that entry and reading share.
func (f Filter) where(benchName, table string) (string, []any) {
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
	if f.Text != "" {
		and(`CAST(entry.body AS TEXT) LIKE ? ESCAPE '!'`, "%"+likeText(f.Text)+"%")
	}
	return strings.Join(cond, " AND "), args
}

// likeText is a text as it stands inside a JSON body, made safe for LIKE: a first, coarse sieve.
func likeText(text string) string {
	b, err := json.Marshal(text)
	if err != nil {
		return text
	}
	return strings.NewReplacer("!", "!!", "%", "!%", "_", "!_").Replace(string(b[1 : len(b)-1]))
}

func (f Filter) order(table string) string {
	if f.OldestFirst {
		return " ORDER BY " + table + ".n"
	}
	return " ORDER BY " + table + ".n DESC"
}

// says is the fine sieve: the text stands in what a person would look for, not in the names of the form.
func (f Filter) says(e bench.Entry) bool {
	if f.Text == "" {
		return true
	}
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
	want := strings.ToLower(f.Text)
	for _, w := range words {
		if strings.Contains(strings.ToLower(w), want) {
			return true
		}
	}
	return false
}
