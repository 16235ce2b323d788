package bench

import (
	"cmp"
	"fmt"
	"strings"

	"thoud/capture/plan"
)

// A part's mark stands in one place: with the parts that are followed. A mark that is kept as a value of an engine,
// "mark_PART", fits that part; taken out of the record, the part comes out. Ledgers of before hold such marks as values
// too; they are shown until a part of that name is fitted.

// PartsIn lists the parts in an engine as they were when the entry of a number was made; 0: as they are.
func (s State) PartsIn(engine string, n uint64) []PartLife {
	var out []PartLife
	for _, p := range s.Fitted {
		for i, st := range p.Stints {
			if st.Engine == engine && (n == 0 || st.In.N <= n) && (st.Out == nil || n > 0 && st.Out.N > n) {
				p.Stints = p.Stints[:i+1]
				out = append(out, p)
				break
			}
		}
	}
	return out
}

// MarkDatum gives a part's mark as a field of its engine's record.
func (p PartLife) MarkDatum() plan.Datum {
	name := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return '_'
	}, strings.ToLower(p.What))
	return plan.Datum{Name: MarkField + name, Title: "Mark of the " + p.What, Word: p.Mark, Source: "fitted"}
}

// partNamed is what a field "mark_PART" is about, as a part is named: "left piston"; false where it is a datum of the
// plan, or no such field.
func (k engineNow) partNamed(v EngineValue) (string, bool) {
	part, ok := strings.CutPrefix(v.Name, MarkField)
	if !ok || part == "" || v.Open {
		return "", false
	}
	if k.build != nil {
		if _, planned := k.build.planned(v.Name); planned {
			return "", false
		}
	}
	return strings.ReplaceAll(part, "_", " "), true
}

// marksOf makes parts that are fitted, or come out, of the marks among values that are to be kept; the others are left.
// A mark that the record held as a value is held there no more.
func (k engineNow) marksOf(s State, set EngineSet) (parts []Entry, words []string, rest EngineSet, err error) {
	rest = set
	rest.Values = nil
	for _, v := range set.Values {
		what, is := k.partNamed(v)
		in, fitted := partIn(s, set.Engine, v.Name)
		_, recorded := k.record.Value(v.Name)
		if !is || v.Gone && !fitted {
			rest.Values = append(rest.Values, v)
			continue
		}
		if recorded {
			rest.Values = append(rest.Values, EngineValue{Name: v.Name, Gone: true})
		}
		e := Entry{Kind: PartOut, Life: &Life{Engine: set.Engine, Mark: in.Mark, Hours: s.LifeOf(set.Engine).Hours, Job: s.openJob(set.Engine)}}
		said := fmt.Sprintf("%s is out", v.Name)
		if !v.Gone {
			asField := v
			if _, _, err := k.keep(&asField, true); err != nil {
				return nil, nil, rest, err
			}
			mark := strings.TrimSpace(cmp.Or(asField.Word, v.Text, v.Word))
			if fitted && in.Mark == mark {
				continue
			}
			l := Life{Engine: set.Engine, Mark: mark, What: what}
			if p, known := s.PartOf(mark); known && fieldOfPart(p.What) == v.Name {
				l.What = p.What
			}
			l.Job = s.openJob(set.Engine)
			if e, _, err = fitPart(s, l); err != nil {
				return nil, nil, rest, err
			}
			said = v.Name + ": " + mark
		}
		if s, err = applyLife(s, e); err != nil {
			return nil, nil, rest, err
		}
		parts, words = append(parts, e), append(words, said)
	}
	return parts, words, rest, nil
}

func fieldOfPart(what string) string { return PartLife{What: what}.MarkDatum().Name }

// partIn finds the part that is in an engine under the name of a field.
func partIn(s State, engine, field string) (PartLife, bool) {
	for _, p := range s.PartsIn(engine, 0) {
		if fieldOfPart(p.What) == field {
			return p, true
		}
	}
	return PartLife{}, false
}

// openJob is the newest open build of an engine; "" where none is open.
func (s State) openJob(engine string) string {
	job := ""
	for _, b := range s.Index {
		if b.Engine == engine && b.Closed == 0 {
			job = b.Job
		}
	}
	return job
}

// withParts puts the marks of the parts that are in an engine among the fields of its record: one that the record holds
// under the same name stands behind it, as said otherwise.
func withParts(rows []EngineValueRow, parts []PartLife) []EngineValueRow {
	for _, p := range parts {
		d, st := p.MarkDatum(), p.Stints[len(p.Stints)-1]
		row := EngineValueRow{Name: d.Name, Title: d.Title, Kind: wordKind, Words: d.Word, Source: d.Source, By: st.In.By, At: st.In.At, Recorded: true}
		replaced := false
		for i := range rows {
			if rows[i].Name == row.Name {
				if rows[i].Words != row.Words {
					row.Against = rows[i].Words
				}
				rows[i], replaced = row, true
			}
		}
		if !replaced {
			rows = append(rows, row)
		}
	}
	return rows
}
