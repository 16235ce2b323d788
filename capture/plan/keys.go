package plan

import (
	"fmt"
	"slices"
	"sync"

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

// keyTable finds a table of the language; nil for one that may have any keys.
func keyTable(name string) *KeyTable {
	return byName().tables[name]
}

// keyIndex is the tables and their keys by name: a plan of some length asks for a key of a table a hundred thousand times.
type keyIndex struct {
	tables map[string]*KeyTable
	rows   map[*KeyTable]map[string]*Key
}

var byName = sync.OnceValue(func() keyIndex {
	out := keyIndex{map[string]*KeyTable{}, map[*KeyTable]map[string]*Key{}}
	for i := range keyTables {
		t := &keyTables[i]
		rows := map[string]*Key{}
		for k := range t.Keys {
			rows[t.Keys[k].Name] = &t.Keys[k]
		}
		out.tables[t.Name], out.rows[t] = t, rows
	}
	return out
})

// key finds a key of a table, nil where it has none of that name.
func (k *KeyTable) key(name string) *Key {
	if k == nil {
		return nil
	}
	return byName().rows[k][name]
}

// row finds a key that the reader asks for; nil of a table that may have any.
func (k *KeyTable) row(key string) *Key {
	if k == nil {
		return nil
	}
	row := k.key(key)
	if row == nil {
		panic(fmt.Sprintf("plan: the reader asks for the key %q of a %s, which has no row in keytable.go", key, k.Name))
	}
	return row
}

// within is the table that stands behind a key of this one.
func (k *KeyTable) within(key string) *KeyTable {
	row := k.row(key)
	if row == nil || row.Form == FormEach {
		return nil // its keys are names
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
		if t.of.key(k) != nil || t.fs.kept {
			t.mark(k)
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
