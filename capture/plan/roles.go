package plan

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// GaugeRole is one row of the table of gauge roles: what work a gauge does, whatever its make.
type GaugeRole struct {
	Name     string          // as plans and the register write it
	Words    string          // for people
	Kinds    []quantity.Kind // what it can read; the first is meant where a plan doesn't say
	Measures bool            // false for a pedal, which only says when
	Also     []string        // what people write instead; used to say what was meant, never understood
}

// Roles is the table of gauge roles. Every list of roles, on a page, in a command or in a profile, is made from it or
// held against it by a test.
var Roles = []GaugeRole{
	{Name: "indicator", Words: "dial or digital indicator", Kinds: lengths, Measures: true, Also: []string{"dial", "clock", "dti", "plunger", "lever"}},
	{Name: "comparator", Words: "comparator, set to a gauge block", Kinds: lengths, Measures: true, Also: []string{"air-gauge"}},
	{Name: "caliper", Words: "caliper", Kinds: lengths, Measures: true, Also: []string{"vernier"}},
	{Name: "micrometer", Words: "micrometer", Kinds: lengths, Measures: true, Also: []string{"mic", "mike"}},
	{Name: "bore", Words: "bore gauge, set in a ring", Kinds: lengths, Measures: true, Also: []string{"boregauge", "cylinder-gauge", "telescope"}},
	{Name: "depth", Words: "depth gauge", Kinds: lengths, Measures: true},
	{Name: "height", Words: "height gauge", Kinds: lengths, Measures: true},
	{Name: "feeler", Words: "feeler blades", Kinds: lengths, Measures: true, Also: []string{"blades", "thickness-gauge"}},
	{Name: "angle", Words: "angle encoder or angle gauge", Kinds: []quantity.Kind{quantity.Angle}, Measures: true, Also: []string{"encoder", "inclinometer"}},
	{Name: "wheel", Words: "degree wheel, read by eye", Kinds: []quantity.Kind{quantity.Angle}, Measures: true, Also: []string{"degree-wheel", "disc", "protractor"}},
	{Name: "scale", Words: "scale", Kinds: []quantity.Kind{quantity.Mass}, Measures: true, Also: []string{"balance", "weight"}},
	{Name: "force", Words: "force gauge", Kinds: []quantity.Kind{quantity.Force}, Measures: true, Also: []string{"spring-tester", "load-cell"}},
	{Name: "torque", Words: "torque wrench", Kinds: []quantity.Kind{quantity.Torque}, Measures: true, Also: []string{"wrench"}},
	{Name: "burette", Words: "burette", Kinds: []quantity.Kind{quantity.Volume}, Measures: true, Also: []string{"syringe", "pipette"}},
	{Name: "temperature", Words: "thermometer", Kinds: []quantity.Kind{quantity.Temperature}, Measures: true, Also: []string{"thermometer"}},
	{Name: "leakage", Words: "leak-down gauge, in percent", Kinds: []quantity.Kind{quantity.Number}, Measures: true, Also: []string{"leakdown", "leak-down"}},
	{Name: "watch", Words: "watch, in seconds or minutes", Kinds: []quantity.Kind{quantity.Number}, Measures: true, Also: []string{"timer", "stopwatch"}},
	{Name: "key", Words: "pedal or key", Also: []string{"pedal", "button", "foot"}},
}

var lengths = []quantity.Kind{quantity.Length}

// Role finds a role by its name.
func Role(name string) (GaugeRole, bool) {
	i := slices.IndexFunc(Roles, func(r GaugeRole) bool { return r.Name == name })
	if i < 0 {
		return GaugeRole{}, false
	}
	return Roles[i], true
}

// RoleWords is a role as people call it; its name where the table has none.
func RoleWords(name string) string {
	if r, ok := Role(name); ok {
		return r.Words
	}
	return name
}

// RoleNames lists the names of all roles, in the order of the table.
func RoleNames() []string {
	names := make([]string, len(Roles))
	for i, r := range Roles {
		names[i] = r.Name
	}
	return names
}

// CheckRole refuses a name that is no role, in words, with the role that was probably meant.
func CheckRole(name string) error {
	if _, ok := Role(name); ok {
		return nil
	}
	for _, r := range Roles {
		if slices.Contains(r.Also, strings.ToLower(name)) {
			return fmt.Errorf("%s is no gauge role; did you mean %q?", quoted(name), r.Name)
		}
	}
	if near := nearest(name, RoleNames()); near != "" {
		return fmt.Errorf("%s is no gauge role; did you mean %q?", quoted(name), near)
	}
	return fmt.Errorf("%s is no gauge role; there are %s", quoted(name), strings.Join(RoleNames(), ", "))
}

// Reads reports whether a gauge of this role can read a kind of quantity.
func (r GaugeRole) Reads(kind quantity.Kind) bool { return slices.Contains(r.Kinds, kind) }
