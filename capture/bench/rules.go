package bench

import (
	"maps"

	"thoud/calc"
)

// Rules is the version of what lies between entries and what is computed of them: the fold, the binding, the reckoning of
// uncertainty, the decoding. It is raised when the same entries would lead to other requests. Results say by which they
// were made; 1 is also meant where they say nothing.
const Rules = 4

// RulesInForce names the rules and the version of every method by which results are made from an entry on. Before the
// first entry that names some, all are 1.
type RulesInForce struct {
	Rules   int            `json:"rules"`
	Methods map[string]int `json:"methods"`
	// Program is the version of the program that begins here: it decides nothing, but says later who wrote what follows.
	// Entries of earlier programs name none.
	Program string `json:"program,omitempty"`
}

// RulesNow are those of this program, whose version is program.
func RulesNow(program string) RulesInForce {
	r := RulesInForce{Rules: Rules, Methods: map[string]int{}, Program: program}
	for _, m := range calc.Methods() {
		r.Methods[m.Name] = m.Version
	}
	return r
}

// Version is a method's version in force; 1 where none was named.
func (r *RulesInForce) Version(method string) int {
	if r == nil || r.Methods[method] == 0 {
		return 1
	}
	return r.Methods[method]
}

// Number is the version of the rules in force; 1 where none was named.
func (r *RulesInForce) Number() int {
	if r == nil || r.Rules == 0 {
		return 1
	}
	return r.Rules
}

// Equal reports whether both name the same.
func (r *RulesInForce) Equal(o RulesInForce) bool {
	return r != nil && r.Rules == o.Rules && r.Program == o.Program && maps.Equal(r.Methods, o.Methods)
}

// Namings are the entries with which a service begins that makes results by these rules, decodes by these texts of
// profiles and signs with this key: what the ledger does not name yet. A key of "" signs nothing.
func Namings(s State, rules RulesInForce, profiles map[string]string, key string) []Entry {
	var out []Entry
	if !s.Rules.Equal(rules) {
		out = append(out, Entry{Kind: RulesNamed, Rules: &rules, By: "bench"})
	}
	if key != "" && s.Key != key {
		out = append(out, Entry{Kind: KeyNamed, Key: key, By: "bench"})
	}
	for _, g := range s.Gauges {
		if text := profiles[g.Profile]; !g.Removed && text != "" && text != g.ProfileText {
			out = append(out, Entry{Kind: ProfileNamed, Gauge: &Gauge{Name: g.Name, Profile: g.Profile, ProfileText: text}, By: "bench"})
		}
	}
	return out
}

// named folds what names rules or the key.
func named(s State, e Entry) State {
	switch {
	case e.Kind == RulesNamed && e.Rules != nil:
		s.Rules = e.Rules
	case e.Kind == KeyNamed:
		s.Key = e.Key
	}
	return s
}
