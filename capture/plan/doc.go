// Package plan holds the ordered steps of a build: the types, the strict TOML they are written in, and the plans that
// ship. A plan is pure text in and types out; it refuses an unknown key, a dangling reference, a cycle, a wrong unit,
// each with line and column. A build keeps its own copy of its plan, word for word.
//
// # The language
//
// A plan is one TOML file (TOML 1.0, UTF-8, at most 512 KiB). It is strict: whatever is not described here is refused.
//
//	title     = "Top end of a parallel twin"     what is built
//	version   = 1                                 one more whenever the plan changes
//	guard     = "1"                               guard band of every verdict, in multiples of U; 1 where not given
//	cylinders = ["left", "right"]                 as seen from the rider's seat
//	valves    = ["inlet", "exhaust"]              of each cylinder; may be left out
//	cautions  = ["Turn by hand only."]            general ones, before the first step and on the sheet
//
// A quantity is a text with its unit, "0.0375 in", "7/32 in", "28 deg", "26 tpi"; a count or ratio is a bare number.
// Where a list is wanted, one value alone is a list of one. Names are lower-case letters, digits and "-" ("_" in names
// of engine data). Texts are printable and of one line.
//
// # Engine data
//
//	[engine.stroke]
//	title   = "Stroke"           what it is called; the name in words where left out
//	value   = "82 mm"            or list = ["0.002 in", "0.003 in"], or word = "5/16-24 UNF"
//	kind    = "length"           needed only where the unit leaves it open ("1 mm" of a thread is kind = "pitch")
//	u       = "0.01 mm"          stated standard uncertainty, if any
//	source  = "maker's data"     or "builder's choice", "measured", "common practice", a standard by its number
//	confirm = true               the builder confirms it before the first reading that uses it
//
// A value of common practice must be confirmed; so a customary limit is engine data, never a number in a step.
//
// # Steps
//
//	[[step]]
//	id       = "bore-map"            each of its own; "{cylinder}" where the step is for every cylinder
//	for      = "cylinder"            or "valve": writes the step out for each; the id gets "-left", "-left-inlet"
//	                                 unless it says {cylinder} itself; every text may say {cylinder} and {valve}
//	title    = "Bore, {cylinder}"
//	do       = "Read the bore at three depths on two axes."
//	phase    = "dry"                 then wash, then final
//	kind     = "measure"             or fit, check
//	needs    = ["guide-clearance"]   earlier steps; the id as written stands for all that are written out of it
//	capture  = { mode = "press", role = "bore", kind = "length" }
//	           mode: press, settle, highest, lowest, swing, trace, keyed, bracket; with settle also dwell and band;
//	           with trace also angle, the role of the angle gauge, and angle_setup, how well its zero stands; kind is length unless said
//	datum    = { do = "Set the gauge in the ring.", size = "71 mm", close = true, drift = "0.002 mm", each = true }
//	           size 0 unless said, a quantity or "@engine.NAME"; close: the pass ends by reading the datum again; each: set anew in every pass
//	seatings = 3                     readings at every point, each after seating anew
//	setup    = "0.0005 in"           stated set-up repeatability (a standard uncertainty) where there are no seatings
//	confirms = [{ id = "compound", text = "The threadlocking compound is on." }]
//	cautions = ["…"]                 shown before the step
//	notes    = ["…"]
//	items    = [{ name = "mouth-cover", keep_until = "…", out_before = "barrel-on", count = 2 }]
//	out      = ["mouth-cover"]       items that come out here
//	loose    = [{ name = "cam-nut", ends = "cam-nut-tight" }]    left nipped, started, unlocked or dry
//	ends     = ["cam-nut"]           what is made fast here; it is enough to say it at one of the two
//	hold     = true                  the next step waits for a signature
//	view     = "twin-top"            which drawing is shown
//	proof    = true                  measured again in the final phase …
//	again    = "bore-map"            … by a final step that takes over points, capture, datum, texts and method of
//	                                 this one, and may replace any of them
//
// # Points
//
//	[[step.point]]
//	for   = "cylinder"               or "valve": each valve of each cylinder
//	along = { depth = ["10 mm", "40 mm"], axis = ["thrust", "pin"] }
//	id    = "{cylinder}.{depth}.{axis}"     "left.10mm.thrust": blanks go, "." and "/" of a value become "-"
//	title, do                        of this point; do takes the place of the step's
//	once = true                      a reading of an earlier pass stands until it is taken anew
//	from_pass = 2                    not asked for in the first pass
//	role, mode                       where they differ from the step's
//	angle = "45 deg", depth = "10 mm"       where it is; taken from "along" lists of these names
//	least = "71 mm", most = "73 mm"  what is plausible
//
// # Computation
//
//	[step.compute]
//	method   = "bore-map"
//	per      = "cylinder"            or pass, point, valve: how often it runs over a pass
//	shown    = ["taper"]             figures shown large
//	words    = { away = "towards the open air" }         in place of the method's direction words
//	approach = { figure = "clearance_now", point = "{cylinder}.now" }
//	[step.compute.inputs]            every input the method must have: a constant, one reference or a list of them
//	[step.compute.limits]
//	taper = { upper = "@engine.taper_most" }              or { lower = "…", upper = "…", source = "maker's data" }
//
// References are listed at Binding. A trailing "?" leaves the input out as long as there is nothing; it must be there
// where the first pass can't have a reading. A constant may state its uncertainty: { value = "9 mm", u = "0.01 mm" }.
package plan
