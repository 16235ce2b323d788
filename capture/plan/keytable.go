package plan

import (
	"slices"

	"thoud/calc/quantity"
)

// keyTables are the rows. A new key is a row here and what reads it; the tests of this package hold the two together.
var keyTables = []KeyTable{
	{Name: "plan", As: "the file", Words: "a plan", Keys: []Key{
		{Name: "title", Form: FormText, Need: true, Words: "what is built"},
		{Name: "version", Form: FormCount, Need: true, Words: "one more whenever the plan changes"},
		{Name: "guard", Form: FormQuantity, Words: "guard band of every verdict, in multiples of U; 1 where not given"},
		{Name: "cylinders", Form: FormNames, Need: true, Words: "as seen from the rider's seat, left first"},
		{Name: "valves", Form: FormNames, Words: "of each cylinder"},
		{Name: "cautions", Form: FormTexts, Words: "general ones, before the first step and on the sheet"},
		{Name: "variant", Form: FormEach, Table: "variant", Words: "how the engine is made"},
		{Name: "group", Form: FormEach, Table: "group", Words: "steps that are wanted or not"},
		{Name: "never", Form: FormTables, Table: "never", Words: "choices that contradict each other"},
		{Name: "blocks", Form: FormTables, Table: "blocks", Words: "what the guide blocks are for; each cylinder where not given"},
		{Name: "engine", Form: FormEach, Table: "engine", Words: "engine data and customary values"},
		{Name: "step", Form: FormTables, Table: "step", Need: true, Words: "the steps, in order"},
		{Name: "change", Form: FormTables, Table: "change", Words: "what was changed in mid-build; the later over the earlier"},
	}},
	{Name: "change", As: "[[change]]", Words: "what was changed of a step in mid-build; any other key takes the place of the step's own, save id, for, again, when, after", Keys: append([]Key{
		{Name: "step", Form: FormText, Need: true, Words: "a step, or as written those that are written out of it"},
		{Name: "why", Form: FormText, Need: true, Words: "the reason, one sentence"},
		{Name: "leave_out", Form: FormFlag, Words: "nothing more is done in it, and who needs it counts it as done"},
	}, replaceable()...)},
	{Name: "variant", As: "[variant.NAME]", Words: "a choice of how the engine is made", Keys: []Key{
		{Name: "title", Form: FormText, Need: true, Words: "what is chosen"},
		{Name: "choice", Form: FormNames, Need: true, Words: "what there is to choose from"},
		{Name: "value", Form: FormName, Need: true, Words: "what is chosen"},
	}},
	{Name: "group", As: "[group.NAME]", Words: "steps that are wanted or not", Keys: []Key{
		{Name: "title", Form: FormText, Need: true, Words: "what the steps do"},
		{Name: "on", Form: FormFlag, Need: true, Words: "whether they are wanted"},
	}},
	{Name: "never", As: "[[never]]", Words: "choices that no engine has together", Keys: []Key{
		{Name: "when", Form: FormFree, Need: true, Words: "two variants or groups or more, each with the choices that are meant"},
		{Name: "told", Form: FormText, Need: true, Words: "why not, and what to choose instead"},
	}},
	{Name: "blocks", As: "[[blocks]]", Words: "what the engine's guide blocks are for, and so what they are called", Keys: []Key{
		rowWhen,
		{Name: "each", Form: FormWord, Need: true, Enum: []string{blocksOfCylinders, blocksOfShafts}, Words: "a block for the followers of each cylinder, called as it, or of each camshaft, called inlet and exhaust"},
	}},
	{Name: "engine", As: "[engine.NAME]", Words: "one piece of engine data; exactly one of value, list, word and derived", Keys: []Key{
		rowWhen,
		{Name: "title", Form: FormText, Words: "what it is called; the name in words where left out"},
		{Name: "kind", Form: FormWord, Enum: words(kinds), Words: "needed only where the unit leaves it open"},
		{Name: "value", Form: FormQuantity, Words: "a quantity with its unit"},
		{Name: "list", Form: FormAmounts, Words: "several, as the shims in stock"},
		{Name: "word", Form: FormText, Words: "a word, as \"5/16-24 UNF\""},
		{Name: "choice", Form: FormTexts, Words: "what a word may be"},
		{Name: "derived", Form: FormText, Words: "names and numbers with + - * /, as \"stroke / 2\""},
		{Name: "u", Form: FormQuantity, Words: "stated standard uncertainty"},
		{Name: "source", Form: FormText, Words: "\"maker's data\", \"builder's choice\", \"measured\", \"common practice\", a standard by its number"},
		{Name: "confirm", Form: FormFlag, Words: "the builder confirms it before the first reading that uses it"},
	}},
	{Name: "step", As: "[[step]]", Words: "one piece of work", Keys: rowsStep},
	{Name: "capture", As: "capture = {…}", Words: "how readings are taken", Keys: []Key{
		{Name: "mode", Form: FormWord, Enum: words(modeNames()), Words: "press where not given"},
		{Name: "role", Form: FormWord, Need: true, Enum: measuring(""), Words: "which gauge reads"},
		{Name: "kind", Form: FormWord, Enum: words(kinds), Words: "what is measured; length where not given"},
		{Name: "dwell", Form: FormTime, Words: "with settle: still this long"},
		{Name: "band", Form: FormQuantity, Words: "with settle: within so much; with crossings: how near the height the gauge stands while the wheel is read"},
		{Name: "angle", Form: FormWord, Enum: measuring(quantity.Angle), Words: "with trace: the role of the angle gauge"},
		{Name: "parallax", Form: FormQuantity, Words: "with stops, crossings or a typed wheel: how far it is misread from askew, a standard uncertainty"},
		{Name: "angle_setup", Form: FormQuantity, Words: "how well the zero of the angle gauge stands, a standard uncertainty"},
	}},
	{Name: "datum", As: "datum = {…}", Words: "where a gauge is zeroed", Keys: []Key{
		{Name: "do", Form: FormText, Need: true, Words: "where the gauge rests"},
		{Name: "size", Form: FormQuantity, Words: "what it shall read there: 0, a quantity or \"@engine.NAME\""},
		{Name: "close", Form: FormFlag, Words: "the pass ends by reading the datum again"},
		{Name: "drift", Form: FormQuantity, Words: "allowed then; a tenth of the tolerance where not given"},
		{Name: "each", Form: FormFlag, Words: "set anew in every pass"},
		{Name: "at_point", Form: FormFlag, Words: "every point has a zero of its own, which stands through the passes"},
	}},
	{Name: "gauge", As: "[[step.gauge]]", Words: "a further gauge of a step", Keys: []Key{
		rowWhen,
		{Name: "name", Form: FormName, Need: true, Words: "which the points say"},
		{Name: "capture", Form: FormTable, Need: true, Table: "capture", Words: "how it reads"},
		{Name: "datum", Form: FormTable, Table: "datum", Words: "where it is zeroed"},
	}},
	{Name: "point", As: "[[step.point]]", Words: "one place where a reading is wanted", Keys: []Key{
		rowFor, rowWhen,
		{Name: "along", Form: FormFree, Words: "lists that it is written out for, as { depth = [\"10 mm\", \"40 mm\"] }"},
		{Name: "id", Form: FormText, Need: true, Words: "\"left\", \"{cylinder}.{depth}.thrust\""},
		{Name: "title", Form: FormText, Words: "what it is called"},
		{Name: "do", Form: FormText, Words: "what to do there, in place of the step's sentence"},
		{Name: "once", Form: FormFlag, Words: "a reading of an earlier pass stands until it is taken anew"},
		{Name: "first", Form: FormFlag, Words: "must be in before the other points of its cylinder are asked for"},
		{Name: "from_pass", Form: FormCount, Words: "the first pass that asks for it"},
		{Name: "role", Form: FormWord, Enum: measuring(""), Words: "where it differs from the step's"},
		{Name: "mode", Form: FormWord, Enum: words(modeNames()), Words: "where it differs from the step's"},
		{Name: "gauge", Form: FormName, Words: "which of the step's further gauges reads"},
		{Name: "angle", Form: FormQuantity, Words: "where on the circle it is"},
		{Name: "depth", Form: FormQuantity, Words: "how far down a bore it is"},
		{Name: "height", Form: FormQuantity, Words: "with crossings: what the gauge shows where the wheel is read, or \"@engine.NAME\""},
		{Name: "flank", Form: FormWord, Enum: words([]Flank{Rising, Falling}), Words: "with crossings: the side of the lobe"},
		{Name: "turned", Form: FormWord, Enum: []string{TurnedForward, TurnedBack}, Words: "of a typed wheel at a stop: which way the crankshaft was turned onto it"},
		{Name: "least", Form: FormQuantity, Words: "what is plausible there"},
		{Name: "most", Form: FormQuantity, Words: "what is plausible there"},
		{Name: "unit", Form: FormText, Words: "what a plain number counts that is read there, as \"%\" or \"s\""},
	}},
	{Name: "compute", As: "[step.compute]", Words: "what is computed from a pass", Keys: rowsCompute},
	{Name: "also", As: "[[step.also]]", Words: "what else is computed from the same pass", Keys: append([]Key{
		{Name: "name", Form: FormName, Need: true, Words: "its results are named by it"},
		{Name: "before", Form: FormFlag, Words: "on engine data and earlier steps alone, told before the first reading"},
		rowWhen,
	}, rowsCompute...)},
	{Name: "approach", As: "approach = {…}", Words: "what is brought within its limits while the gauge stands on it", Keys: []Key{
		{Name: "figure", Form: FormText, Need: true, Words: "the figure"},
		{Name: "point", Form: FormText, Need: true, Words: "the point the gauge stands on"},
	}},
	{Name: "limit", As: "FIGURE = {…}", Words: "a limit of a figure", Keys: []Key{
		{Name: "lower", Form: FormQuantity, Words: "a quantity or \"@engine.NAME\""},
		{Name: "upper", Form: FormQuantity, Words: "a quantity or \"@engine.NAME\""},
		{Name: "source", Form: FormText, Words: "where the limit comes from"},
		{Name: "from_pass", Form: FormCount, Words: "the pass from which on it binds"},
		{Name: "told", Form: FormText, Words: "what to do where it is not kept and the method has no order"},
	}},
	{Name: "confirm", As: "confirms = [{…}]", Words: "what the builder confirms", Keys: []Key{
		rowFor, rowWhen,
		{Name: "id", Form: FormText, Need: true, Words: "a short name"},
		{Name: "text", Form: FormText, Need: true, Words: "true or false now"},
		{Name: "alone", Form: FormFlag, Words: "asked singly"},
		{Name: "first", Form: FormFlag, Words: "asked before the first reading, not after the last"},
	}},
	{Name: "ask", As: "asks = [{…}]", Words: "what is asked once; the answer decides what stands", Keys: []Key{
		rowFor, rowWhen,
		{Name: "id", Form: FormName, Need: true, Words: "which when says"},
		{Name: "text", Form: FormText, Need: true, Words: "the question"},
		{Name: "choice", Form: FormTexts, Need: true, Words: "the answers; the first is looked at until there is one; \"{cylinder}\" or \"{block}\" is each of several"},
		{Name: "said", Form: FormTexts, Words: "how the answers are said, one for each choice, where they are marks on a part"},
	}},
	{Name: "item", As: "items = [{…}]", Words: "a thing in the engine for a time", Keys: []Key{
		rowFor, rowWhen,
		{Name: "name", Form: FormText, Need: true, Words: "what goes in"},
		{Name: "count", Form: FormPieces, Words: "pieces: a number, \"1 per cylinder\" or \"1 per valve\""},
		{Name: "first", Form: FormFlag, Words: "it goes in before the first reading of the step, not after the last"},
		{Name: "keep_until", Form: FormText, Words: "the step that must be done before it may come out"},
		{Name: "out_before", Form: FormText, Words: "the step that may not begin while it is in"},
	}},
	{Name: "loose", As: "loose = [{…}]", Words: "a thing left loose", Keys: []Key{
		rowWhen,
		{Name: "name", Form: FormName, Need: true, Words: "what is left loose"},
		{Name: "ends", Form: FormText, Words: "the step that makes it fast"},
	}},
	{Name: "cure", As: "cures = [{…}]", Words: "a time that begins when the step is done", Keys: []Key{
		{Name: "name", Form: FormName, Need: true, Words: "what cures, cools or dries"},
		{Name: "time", Form: FormTime, Need: true, Words: "how long, as \"24 h\" or \"20 min\""},
		{Name: "holds", Form: FormTexts, Words: "steps that wait until it is over"},
		{Name: "until", Form: FormText, Words: "an open time: the step that must be done before it is over"},
	}},
}

var (
	rowFor  = Key{Name: "for", Form: FormWord, Enum: eachWords, Words: "written out for each"}
	rowWhen = Key{Name: "when", Form: FormFree, Words: "the variants, groups and answers with which it stands; an answer also as { not = […] }"}

	rowsCompute = []Key{
		{Name: "method", Form: FormText, Need: true, Words: "the name of a computation"},
		{Name: "for", Form: FormWord, Enum: eachWords, Words: "written out for each, so that what is no reading may differ; in place of per"},
		{Name: "per", Form: FormWord, Enum: words([]Per{PerPass, PerPoint, PerCylinder, PerValve, PerBlock, PerOther}), Words: "how often it runs over a pass"},
		{Name: "inputs", Form: FormFree, Need: true, Words: "a constant, a reference or a list of them for each input of the method"},
		{Name: "limits", Form: FormEach, Table: "limit", Words: "of its figures"},
		{Name: "spread", Form: FormEach, Table: "limit", Words: "limits on greatest less least of a figure over the runs"},
		{Name: "called", Form: FormText, Words: "what its rows are called, beside the side, where its name says too little"},
		{Name: "shown", Form: FormTexts, Words: "figures shown large"},
		{Name: "words", Form: FormFree, Words: "direction words in place of the method's"},
		{Name: "approach", Form: FormTable, Table: "approach", Words: "what is brought within its limits while the gauge stands on it"},
		{Name: "told", Form: FormText, Words: "what to do where a limit is not kept and the method has no order"},
		{Name: "kind", Form: FormWord, Enum: words(kinds), Words: "what a method for any kind computes with"},
		{Name: "points", Form: FormTexts, Words: "with per = \"point\": only for points that fit"},
		{Name: "from_pass", Form: FormCount, Words: "the first pass it runs in"},
	}
)

// rowsStep are the keys of a step.
var rowsStep = []Key{
	{Name: "id", Form: FormText, Need: true, Words: "each of its own; may say {cylinder}"},
	rowFor, rowWhen,
	{Name: "title", Form: FormText, Words: "what the step is"},
	{Name: "do", Form: FormText, Words: "what to do now, one sentence"},
	{Name: "phase", Form: FormWord, Need: true, Enum: words(phases), Words: "the part of the build"},
	{Name: "kind", Form: FormWord, Enum: words(stepKinds), Words: "what is done in it"},
	{Name: "needs", Form: FormTexts, Words: "steps that come first; \"bores/{cylinder}\" or \"block-seat/{block}\" for the same one only"},
	{Name: "capture", Form: FormTable, Table: "capture", Words: "how its readings are taken"},
	{Name: "datum", Form: FormTable, Table: "datum", Words: "where the gauge is zeroed"},
	{Name: "gauge", Form: FormTables, Table: "gauge", Words: "further gauges, for the points that name them"},
	{Name: "seatings", Form: FormCount, Words: "readings at every point, each after seating anew"},
	{Name: "setup", Form: FormQuantity, Words: "stated set-up repeatability, a standard uncertainty, where there are no seatings"},
	{Name: "point", Form: FormTables, Table: "point", Words: "where readings are wanted"},
	{Name: "compute", Form: FormTable, Table: "compute", Words: "what is computed from a pass"},
	{Name: "also", Form: FormTables, Table: "also", Words: "what else is computed from it"},
	{Name: "confirms", Form: FormTables, Table: "confirm", Words: "what the builder confirms"},
	{Name: "asks", Form: FormTables, Table: "ask", Words: "what is asked once and kept for the build"},
	{Name: "cautions", Form: FormTexts, Words: "shown before the step"},
	{Name: "notes", Form: FormTexts, Words: "shown beside it"},
	{Name: "items", Form: FormTables, Table: "item", Words: "what goes into the engine for a time"},
	{Name: "out", Form: FormNames, Words: "items that come out here"},
	{Name: "loose", Form: FormTables, Table: "loose", Words: "what is left nipped, started, unlocked or dry"},
	{Name: "ends", Form: FormNames, Words: "loose things that are made fast here"},
	{Name: "cures", Form: FormTables, Table: "cure", Words: "times that begin when the step is done"},
	{Name: "hold", Form: FormFlag, Words: "the next step waits for a signature"},
	{Name: "view", Form: FormName, Words: "which drawing is shown"},
	{Name: "data", Form: FormFlag, Words: "all engine data that must be confirmed are confirmed here, on one page"},
	{Name: "proof", Form: FormFlag, Words: "measured again in the final phase or later"},
	{Name: "again", Form: FormText, Words: "the proof that is measured again: its points, capture, datum, texts and method are taken over"},
	{Name: "after", Form: FormText, Words: "it comes behind that step, wherever it stands in the file"},
}

// replaceable are the keys of a step that a change in mid-build may replace.
func replaceable() []Key {
	var out []Key
	for _, k := range rowsStep {
		if !slices.Contains(ownOfStep, k.Name) {
			k.Need = false
			out = append(out, k)
		}
	}
	return out
}

// ownOfStep are the keys that no change replaces.
var ownOfStep = []string{"id", "for", "again", "when", "after"}
