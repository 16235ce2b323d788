package plan

import (
	"fmt"
	"slices"

	"thoud/calc/quantity"
)

// KeyForm is what stands behind a key.
type KeyForm string

// The forms. A list may be written as its one element where it has but one.
const (
	FormText     KeyForm = "text"
	FormTexts    KeyForm = "texts"
	FormName     KeyForm = "name" // lower-case letters, digits, "-"
	FormNames    KeyForm = "names"
	FormWord     KeyForm = "word"     // one of a few
	FormFlag     KeyForm = "flag"     // true or false
	FormCount    KeyForm = "count"    // a whole number
	FormPieces   KeyForm = "pieces"   // a whole number, or "1 per cylinder"
	FormQuantity KeyForm = "quantity" // a number with its unit in a text; a count or ratio is a bare number
	FormAmounts  KeyForm = "quantities"
	FormTime     KeyForm = "time"   // "600 ms", "20 min"
	FormTable    KeyForm = "table"  // one table
	FormTables   KeyForm = "tables" // a list of tables
	FormEach     KeyForm = "each"   // a table whose keys are names, each with a table
	FormFree     KeyForm = "free"   // a table whose keys are names
)

// Key is one key of a table of the language.
type Key struct {
	Name  string
	Form  KeyForm
	Need  bool
	Table string   // of what stands behind it, for tables
	Enum  []string // of a word
	Words string   // what it says
}

// KeyTable is one kind of table of the language, with every key that it may have.
type KeyTable struct {
	Name  string
	As    string // how it is written
	Words string
	Keys  []Key
}

// key finds a key of a table.
func (k KeyTable) key(name string) (Key, bool) {
	i := slices.IndexFunc(k.Keys, func(row Key) bool { return row.Name == name })
	if i < 0 {
		return Key{}, false
	}
	return k.Keys[i], true
}

// keyTable finds a table of the language; the zero KeyTable has any keys.
func keyTable(name string) KeyTable {
	for _, t := range keyTables {
		if t.Name == name {
			return t
		}
	}
	return KeyTable{}
}

// within is the table that stands behind a key of this one.
func (k KeyTable) within(key string) KeyTable {
	if k.Name == "" {
		return KeyTable{}
	}
	row, ok := k.key(key)
	if !ok {
		panic(fmt.Sprintf("plan: the reader asks for the key %q of a %s, which has no row in keytable.go", key, k.Name))
	}
	if row.Form == FormEach {
		return KeyTable{} // its keys are names
	}
	return keyTable(row.Table)
}

// KeyTables lists the tables of the language and their keys: the reader refuses what is not here, and the schema and the
// guide are made from it.
func KeyTables() []KeyTable { return slices.Clone(keyTables) }

// lateKeys takes keys that earlier versions read over without a word: in a text that a build keeps they are read over
// still, elsewhere they are refused where the table has no such key.
func (t *table) lateKeys(keys ...string) {
	for _, k := range keys {
		if _, has := t.of.key(k); has || t.fs.kept {
			t.asked = append(t.asked, k)
		}
	}
}

func words[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}

// measuring lists the roles of gauges that measure something, or read one kind.
func measuring(kind quantity.Kind) []string {
	var out []string
	for _, r := range Roles {
		if r.Measures && (kind == "" || r.Reads(kind)) {
			out = append(out, r.Name)
		}
	}
	return out
}
