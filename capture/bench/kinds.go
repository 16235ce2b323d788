package bench

import (
	"slices"
	"sync"
)

// KindRow is one kind of entry and what is said of it in one place only: lists on pages, filters, the columns of the
// export and the ledger's index are made from it.
type KindRow struct {
	Kind  Kind
	Words string               // for people: what happened
	gauge func(Entry) string   // the gauge it is about; nil where it is about none
	says  func(Entry) []string // what it says besides its place, its numbers and its reason; nil where nothing
}

// KindTable lists the kinds of entry in the order in which they come up in a build. A new kind is a constant, a row here,
// and a case in Apply.
func KindTable() []KindRow {
	return []KindRow{
		{Kind: GaugeAdded, Words: "gauge registered", gauge: ofGauge, says: sayGauge},
		{Kind: GaugeRemoved, Words: "gauge removed", gauge: ofItem},
		{Kind: GaugeLost, Words: "gauge gone", gauge: ofLink, says: sayLink},
		{Kind: GaugeBack, Words: "gauge there", gauge: ofLink, says: sayLink},
		{Kind: GaugeChecked, Words: "gauge checked", gauge: ofCheck},
		{Kind: GaugeChosen, Words: "gauge chosen", gauge: ofItem},
		{Kind: BuildStarted, Words: "build started", says: sayBuild},
		{Kind: PlanChanged, Words: "plan changed", says: sayBuild},
		{Kind: EngineValues, Words: "values of the engine kept", says: sayEngine},
		{Kind: StepEntered, Words: "step entered"},
		{Kind: Acknowledged, Words: "cautions read"},
		{Kind: Confirmed, Words: "confirmed", says: sayItem},
		{Kind: ZeroSet, Words: "zero set", gauge: ofZero, says: sayZero},
		{Kind: ZeroLost, Words: "zero lost", gauge: ofItem},
		{Kind: DatumSeen, Words: "datum seen again", gauge: ofReading, says: sayReading},
		{Kind: PassOpened, Words: "pass opened"},
		{Kind: ReadingTaken, Words: "reading", gauge: ofReading, says: sayReading},
		{Kind: Withdrawn, Words: "reading withdrawn"},
		{Kind: Asked, Words: "question", says: sayQuestion},
		{Kind: Answered, Words: "answer", says: sayAnswer},
		{Kind: PassClosed, Words: "pass closed"},
		{Kind: PassVoid, Words: "pass void"},
		{Kind: Overridden, Words: "overridden", says: sayOverride},
		{Kind: TallyIn, Words: "put into the engine", says: sayItem},
		{Kind: TallyOut, Words: "taken out of the engine", says: sayItem},
		{Kind: Dropped, Words: "dropped", says: sayItem},
		{Kind: Found, Words: "found", says: sayItem},
		{Kind: Photo, Words: "photo", says: sayPicture},
		{Kind: Signed, Words: "signed", says: sayInitials},
		{Kind: Reopened, Words: "reopened"},
		{Kind: BuildClosed, Words: "build closed"},
		{Kind: HoursTold, Words: "hours of an engine told", says: sayLife},
		{Kind: PartFitted, Words: "part fitted", says: sayLife},
		{Kind: PartOut, Words: "part taken out", says: sayLife},
		{Kind: WorkDue, Words: "regular work", says: sayLife},
		{Kind: WorkDone, Words: "regular work done", says: sayLife},
		{Kind: RulesNamed, Words: "rules of computing named", says: sayRules},
		{Kind: ProfileNamed, Words: "profile of a gauge named", gauge: ofGauge},
		{Kind: KeyNamed, Words: "key of notes named", says: sayKey},
	}
}

var kindRows = sync.OnceValue(KindTable)

// KindOf finds the row of a kind.
func KindOf(k Kind) (KindRow, bool) {
	rows := kindRows()
	i := slices.IndexFunc(rows, func(r KindRow) bool { return r.Kind == k })
	if i < 0 {
		return KindRow{}, false
	}
	return rows[i], true
}

// Words is the kind for people; a kind that is not known here is named as it stands.
func (k Kind) Words() string {
	if row, ok := KindOf(k); ok {
		return row.Words
	}
	return string(k)
}

// GaugeOf is the name of the gauge that an entry is about; "" where it is about none.
func GaugeOf(e Entry) string {
	if row, ok := KindOf(e.Kind); ok && row.gauge != nil {
		return row.gauge(e)
	}
	return ""
}

// EngineOf is the engine whose record an entry changes; "" where it changes none.
func EngineOf(e Entry) string {
	if e.Kind != EngineValues || e.Engine == nil {
		return ""
	}
	return e.Engine.Engine
}

// SaysOf lists what an entry says besides its place, its numbers and its reason.
func SaysOf(e Entry) []string {
	row, ok := KindOf(e.Kind)
	if !ok || row.says == nil {
		return nil
	}
	return slices.DeleteFunc(row.says(e), func(s string) bool { return s == "" })
}

func sayKey(e Entry) []string { return []string{e.Key} }

func sayRules(e Entry) []string {
	if e.Rules == nil || e.Rules.Program == "" {
		return nil
	}
	return []string{"by thoud " + e.Rules.Program}
}

func ofItem(e Entry) string { return e.Item }

func ofGauge(e Entry) string {
	if e.Gauge == nil {
		return ""
	}
	return e.Gauge.Name
}

func ofLink(e Entry) string {
	if e.Link == nil {
		return ""
	}
	return e.Link.Gauge
}

func ofCheck(e Entry) string {
	if e.Check == nil {
		return ""
	}
	return e.Check.Gauge
}

func ofZero(e Entry) string {
	if e.Zero == nil {
		return ""
	}
	return e.Zero.Gauge
}

func ofReading(e Entry) string {
	if e.Reading == nil {
		return ""
	}
	return e.Reading.Gauge
}

func sayItem(e Entry) []string     { return []string{e.Item} }
func sayAnswer(e Entry) []string   { return []string{e.Item, e.Choice} }
func sayInitials(e Entry) []string { return []string{e.Initials} }

func sayGauge(e Entry) []string {
	if e.Gauge == nil {
		return nil
	}
	return []string{e.Gauge.Role, e.Gauge.Profile, e.Gauge.Port}
}

func sayLink(e Entry) []string {
	if e.Link == nil {
		return nil
	}
	return []string{e.Link.Port}
}

func sayBuild(e Entry) []string {
	if e.Build == nil {
		return nil
	}
	return []string{e.Build.Job, e.Build.Engine, "plan " + e.Build.Plan}
}

func sayZero(e Entry) []string {
	if e.Zero == nil {
		return nil
	}
	return []string{e.Zero.Text}
}

func sayReading(e Entry) []string {
	if e.Reading == nil {
		return nil
	}
	return []string{e.Reading.Mode, e.Reading.Text, e.Reading.Status}
}

func sayQuestion(e Entry) []string {
	if e.Question == nil {
		return nil
	}
	return []string{e.Question.Words}
}

func sayOverride(e Entry) []string {
	if e.Override == nil {
		return nil
	}
	return []string{e.Override.What + " " + e.Override.Name}
}

func sayEngine(e Entry) []string {
	if e.Engine == nil {
		return nil
	}
	out := []string{e.Engine.Engine, e.Engine.From}
	for _, v := range e.Engine.Values {
		out = append(out, v.Name, v.Word)
	}
	return out
}

func sayLife(e Entry) []string {
	if e.Life == nil {
		return nil
	}
	return []string{e.Life.Engine, e.Life.What, e.Life.Mark, "at " + HourWords(e.Life.Hours)}
}

func sayPicture(e Entry) []string {
	if e.Picture == nil {
		return nil
	}
	return []string{e.Picture.Note}
}
