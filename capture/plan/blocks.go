package plan

// What guide blocks are for.
const (
	blocksOfCylinders = "cylinder" // one for the followers of each cylinder, called as it
	blocksOfShafts    = "camshaft" // one for the followers of each camshaft, called as its valves: inlet, exhaust
)

// readBlocks reads [[blocks]]: what the engine's guide blocks are for. Where nothing is said there is one for each cylinder.
func (d *draft) readBlocks(t *table) {
	d.Blocks = d.Cylinders
	said := false
	for _, bt := range t.subs("blocks") {
		stands := d.applies(bt)
		bt.ignore("when")
		bt.need("each", "cylinder or camshaft")
		each := word(bt, "each", "", blocksOfCylinders, blocksOfShafts)
		bt.done()
		switch {
		case !stands || each == "":
			continue
		case said:
			bt.fault(bt.n.pos, "two [[blocks]] stand with the variants chosen; give each a when that leaves the other out")
			continue
		case each == blocksOfShafts && len(d.Valves) == 0:
			bt.fault(bt.n.at("each"), "each = \"camshaft\", but the plan names no valves")
			continue
		}
		said = true
		if each == blocksOfShafts {
			d.Blocks = d.Valves
		}
	}
	if t.get("blocks") != nil && !said && len(d.fs.list) == 0 {
		t.fault(t.n.at("blocks"), "no [[blocks]] stands with the variants chosen; say for every choice what the blocks are for")
	}
}

// sideIn is what something written out is for alone: its cylinder, else its guide block; "" where it is for all.
func (v vars) sideIn() string {
	if c, ok := v.get(eachCylinder); ok {
		return c
	}
	b, _ := v.get(eachBlock)
	return b
}
