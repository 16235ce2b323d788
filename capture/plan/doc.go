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
// # Variants and groups
//
//	[variant.pushrods]               how the engine is made
//	title  = "Pushrods"
//	choice = ["tubes", "tunnels"]
//	value  = "tubes"
//	[group.balance]                  steps that are wanted or not
//	title  = "Balance the crankshaft"
//	on     = false
//
//	[[never]]                        choices that no engine has together: such a plan is refused with what is told
//	when = { camshaft = "two", barrels = "each" }
//	told = "Two camshafts lie in one casting: take barrels = one."
//
//	[[blocks]]                       what the guide blocks are for, and so what they are called; one for each cylinder where
//	when = { camshaft = "two" }      nothing is said. Exactly one of several stands
//	each = "camshaft"                a block holds the followers of a camshaft: inlet, exhaust; or "cylinder": left, right
//
// A step, point, gauge, confirmation, item, further computation or piece of engine data with when = { pushrods = "tubes",
// balance = true } is there only where every line of it holds; a list stands for any of its choices. An answer to a
// question of the plan is such a line too (asks, below). Two steps may have
// one id where their conditions exclude each other. Who needs a step that is left out counts it as done; a reference to it
// is left out too where it is optional ("?"). The choices are written into the text (Shape), so that a build keeps them.
//
// # Engine data
//
//	[engine.stroke]
//	title   = "Stroke"           what it is called; the name in words where left out
//	value   = "82 mm"            or list = ["0.002 in", "0.003 in"], or word = "5/16-24 UNF" (choice = [...] lists what it may be),
//	                             or derived = "stroke / 2": names and numbers with + - * /, without brackets; needs no source
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
//	for      = "cylinder"            or "first", "others", "valve", "block": writes the step out for each; the id gets "-left", "-left-inlet"
//	                                 unless it says {cylinder} itself; every text may say {cylinder}, {valve} and {block}, and
//	                                 {number} or {letter}, the place among all of its kind: 1, 2, 3 or A, B, C. {answer:holes} is
//	                                 what a question of the plan was answered with
//	title    = "Bore, {cylinder}"
//	do       = "Read the bore at three depths on two axes."
//	phase    = "dry"                 then wash, final, start, heat
//	kind     = "measure"             or fit, check
//	needs    = ["guide-clearance"]   earlier steps; the id as written stands for all that are written out of it
//	           "bores/{cylinder}": done for the same cylinder as the point or step; the other cylinder may be away.
//	           "bores/left": done for the left one; "block-seat/{block}": for the same guide block, or all of a step that does
//	           nothing for one block alone
//	capture  = { mode = "press", role = "bore", kind = "length" }
//	           mode: press, settle, highest, lowest, swing, trace, keyed, bracket, stops, crossings; with settle also dwell
//	           and band;
//	           with trace also angle, the role of the angle gauge, and angle_setup, how well its zero stands; kind is length unless said
//	datum    = { do = "Set the gauge in the ring.", size = "71 mm", close = true, drift = "0.002 mm", each = true }
//	           size 0 unless said, a quantity or "@engine.NAME"; close: the pass ends by reading the datum again; each: set anew in every pass;
//	           at_point: every point has a zero of its own (a free bolt), which stands through the passes
//	gauge    = [{ name = "shaft", capture = {…}, datum = {…} }]   further gauges, for the points that say gauge = "shaft"
//	seatings = 3                     readings at every point, each after seating anew
//	setup    = "0.0005 in"           stated set-up repeatability (a standard uncertainty) where there are no seatings
//	confirms = [{ id = "compound", text = "The threadlocking compound is on." }]     alone = true: asked singly
//	           for = "cylinder" or "valve" writes one out for each
//	asks     = [{ id = "holes", text = "Are screw holes there?", choice = ["none", "left", "both"] }]
//	           asked once and kept for the build; when = { holes = "none" } in this step or later stands by the answer. Until
//	           there is one, the first choice is looked at, and what depends on it waits. A choice "{cylinder}" is each cylinder
//	           of several; when = { holes = { not = ["{cylinder}"] } } holds for the others, at a point for its own cylinder;
//	           "@answer:holes" as an input is the words of the answer; "@answer:plate?" leaves it out where that is "none".
//	           for = "cylinder" puts a question for each, its id saying {cylinder}; said = ["…", "…"] says the choices in words
//	           where they are marks on a part
//	cautions = ["…"]                 shown before the step
//	notes    = ["…"]
//	items    = [{ name = "mouth-cover", keep_until = "…", out_before = "barrel-on", count = 2 }]    count also "1 per cylinder", "1 per valve"; for = "cylinder" too
//	out      = ["mouth-cover"]       items that come out here; an item may go in and come out in one step, and in again later
//	cures    = [{ name = "compound", time = "20 min", holds = ["followers"] }]     begins when the step is done, or
//	           { name = "tin", time = "10 min", until = "barrels-down" }: an open time, which warns
//	loose    = [{ name = "cam-nut", ends = "cam-nut-tight" }]    left nipped, started, unlocked or dry
//	ends     = ["cam-nut"]           what is made fast here; it is enough to say it at one of the two
//	hold     = true                  the next step waits for a signature
//	view     = "twin-top"            which drawing is shown
//	data     = true                  all engine data that must be confirmed are confirmed here, on one page
//	proof    = true                  measured again in the final phase or later …
//	again    = "bore-map"            … by a step that takes over points, capture, datum, texts and method of
//	                                 this one, and may replace any of them
//	after    = "bore-map"            it comes behind that step, wherever it stands in the file
//
// # Changes
//
//	[[change]]                       what was changed in mid-build, behind the plan as it was; the later over the earlier
//	step      = "bore-map-left"      a step, or as written those that are written out of it
//	why       = "Barrel sold."
//	leave_out = true                 nothing more is done in it; what was read stays in sight, and who needs it counts it as
//	                                 done. false puts it back
//	seatings  = 2                    any other key takes the place of the step's own, save id, for, again, when, after
//
// # Points
//
//	[[step.point]]
//	for   = "cylinder"               or "valve": each valve of each cylinder; "first": the first cylinder alone; "others":
//	                                 every other one
//	along = { depth = ["10 mm", "40 mm"], axis = ["thrust", "pin"] }
//	                                        {depth} is each of them; of an angle {angle:top} is "5° before the top", without a sign
//	id    = "{cylinder}.{depth}.{axis}"     "left.10mm.thrust": blanks go, "." and "/" of a value become "-"
//	title, do                        of this point; do takes the place of the step's
//	once = true                      a reading of an earlier pass stands until it is taken anew
//	first = true                     must be in before the other points of its cylinder (of the step, where it has none) are
//	                                 asked for; something with limits is computed from the first points alone
//	from_pass = 2                    not asked for in the first pass
//	role, mode                       where they differ from the step's
//	angle = "45 deg", depth = "10 mm"       where it is; taken from "along" lists of these names
//	least = "71 mm", most = "73 mm"  what is plausible
//	height = "@engine.checking_height", flank = "rising"     with crossings: what the gauge shows where the wheel is read
//	turned = "forward"               of a wheel typed at a stop: which way the crankshaft was turned onto it, or "back"
//
// # By eye
//
// Without an angle gauge the degree wheel is read by eye; it is a typed gauge of the role "wheel". mode = "crossings" watches
// the gauge of the step's role, which is zeroed, and keeps the wheel's angle, typed where the gauge passes the point's
// height in the running direction; the gauge must stand within band of it (0.02 mm). mode = "stops" reads the gauge at the
// point's named angle. Both state parallax, how far the wheel is misread from askew. The running direction and the end that
// carries the wheel are asked once: asks with the ids running-direction (clockwise, anticlockwise; seen from the wheel) and
// wheel-end, or variants of these names. Ids end in the height and the flank ("inlet.low.opening"), or in the stop
// ("left.inlet.at10"): what stands before names what is read on together. @heights:PATTERN gives the heights as a list.
//
// # Computation
//
//	[step.compute]
//	method   = "bore-map"
//	per      = "cylinder"            or pass, point, valve, block, others: how often it runs over a pass
//	for      = "cylinder"            in place of per: written out for each, so that a constant, an answer or an element of a list
//	                                 may be its own: "@figure:pins.sizes[{number}]"
//	shown    = ["taper"]             figures shown large
//	words    = { away = "towards the open air" }         in place of the method's direction words
//	approach = { figure = "clearance_now", point = "{cylinder}.now" }
//	[step.compute.inputs]            every input the method must have: a constant, one reference or a list of them
//	[step.compute.limits]
//	taper = { upper = "@engine.taper_most" }              or { lower = "…", upper = "…", source = "maker's data" }; from_pass = 2 binds later
//	[step.compute.spread]            greatest less least over the runs of the step: left against right, one valve against another
//	clearance = { upper = "@engine.fit_spread", told = "Swap the blocks." }
//	told  = "Have it ground."        what to do where a limit is not kept and the method has no order; also beside a limit
//	kind  = "length"                 what a method for any kind computes with, where it is not what the step reads
//	points = ["*.bolt-1"]            of per = "point": only for points that fit
//	[[step.also]]                    what else is computed from the same pass; its inputs may take figures of earlier ones of the step
//	name   = "key"                   results are named by it: "@figure:STEP.key.step"
//	from_pass = 2                    not computed in the first pass
//	before = true                    on engine data and earlier steps alone, told before the first reading
//	method = …                       and all else of [step.compute]
//
// References are listed at Binding. An input may be a sum, { sum = ["@reading:{key}", "@engine.step"] }. In a list of
// tables one with for = "cylinder" or "valve" is written out for each: parts = [{ for = "valve", name = "{cylinder}
// {valve}", size = "@reading:{cylinder}.{valve}" }]. A trailing "?" leaves the input out as long as there is nothing; it must be there
// where the first pass can't have a reading. A constant may state its uncertainty: { value = "9 mm", u = "0.01 mm" }.
package plan
