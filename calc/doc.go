// Package calc is the arithmetic of the trade: one method a file, a table of them, and Run, which checks the inputs,
// computes, propagates uncertainty (GUM, JCGM 100) and decides against limits (ISO 14253-1). Everything in it is pure:
// no clock, no files, no globals but tables. What must not be answered is refused with a *Refusal; nothing is guessed.
//
// Conventions. Inside the package a quantity is a float64 in its kind's base unit (quantity.Base: mm, deg, N, g, cm³,
// N·m, N/mm, N/mm²). Crank angles are positive in the running direction, 0 at top dead centre (overlap TDC of cylinder
// 1 in a 720° cycle). An adjustment is signed: what is still to do.
//
// # Where things are
//
// A file's name says what it is:
//
//	runout.go, tdc_fit.go …  a method, named as in the table (runout, tdc-fit)
//	engine_….go              what Run is made of: contract, checks, uncertainty, verdict, words
//	math_….go                mathematics that several methods use
//	part_….go                parts of an engine that several methods use: a bolt, a thread, a spring
//	table.go                 the methods
//
// # Why it is so
//
// A method is one pure function from numbers to numbers. It knows nothing of uncertainty, limits, units shown or
// sentences in two systems. Considered was a method that also returns its own uncertainty, as textbooks give it: forty
// hand-made derivatives are forty places to be wrong, and a shared error (one zero, one master) crosses from method to
// method. So Run finds the sensitivities itself, by moving each input by its own standard uncertainty both ways and
// calling the method again. That costs two calls a reading; for a sweep of a thousand samples a fit may give its linear
// response instead, which a test holds against the differences. Monte Carlo in Run was considered too (JCGM 101): it
// is the better answer where the law is far from linear, but the same inputs must give the same figures on every
// machine for ever, so it stands in the tests as the second way, and Run warns where first order is not enough.
//
// Methods are rows of a table and inputs are declared, not read from a struct by reflection: the declaration makes the
// help, the form, the check of a plan before anything is measured, and the field named in a refusal. A figure that is
// chosen (a shim out of a box, a keyway) is declared as a choice: it has no uncertainty, and a sensitivity is taken only
// where the choice stays the same.
//
// Figures are plain float64 and may differ in the last bits from one processor to another, because one fuses a
// multiplication with an addition and another does not. Results are therefore compared to a part of 1e-9, or of 1e-6 of U,
// never bit by bit; a fit that is so ill-conditioned that this is not enough is worked out about its own centre.
//
// A stored result names its method's version. The version is raised when the same inputs would give another figure,
// uncertainty, verdict or order: the old result then stands as it was told. If a change of numbers kept its version, every
// ledger made before it would look forged.
package calc
