package plan

import "strings"

// expandRecords writes out the tables of a list that say for = "cylinder" or "valve": one for each, {cylinder} and {valve}
// put in. parts = [{ for = "valve", name = "{cylinder} {valve}", size = "@reading:{cylinder}.{valve}" }] lists every
// valve's part, however many cylinders there are.
func (d *draft) expandRecords(t *table, n *node) *node {
	if n == nil || n.form != formTable {
		return n
	}
	out := *n
	out.keys = append([]field(nil), n.keys...)
	for i, k := range out.keys {
		if k.val.form == formList {
			out.keys[i].val = d.expandList(t, k.val)
		}
	}
	return &out
}

func (d *draft) expandList(t *table, list *node) *node {
	out := *list
	out.items = nil
	for _, item := range list.items {
		if item.form != formTable || item.get("for") == nil {
			out.items = append(out.items, item)
			continue
		}
		for _, v := range d.each(newTable(item, t.fs, t.where, t.vars)) {
			if len(out.items) < maxPoints {
				out.items = append(out.items, filled(item, v))
			}
		}
	}
	return &out
}

// filled is a copy of a table without its "for", the variables written into its texts.
func filled(n *node, v vars) *node {
	out := *n
	if n.form == formText {
		if out.text = v.fill(n.text); strings.HasPrefix(n.text, "@") {
			out.text = v.id(n.text)
		}
	}
	out.keys, out.items = nil, nil
	for _, k := range n.keys {
		if k.name != "for" {
			k.val = filled(k.val, v)
			out.keys = append(out.keys, k)
		}
	}
	for _, item := range n.items {
		out.items = append(out.items, filled(item, v))
	}
	return &out
}
