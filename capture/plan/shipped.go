package plan

import (
	"bytes"
	"embed"
	"fmt"
	"slices"
	"strings"
)

//go:embed plans/*.toml
var shipped embed.FS

// variant is a plan made from another by changing a few lines, so that both can't drift apart.
type variant struct {
	name, of string
	lines    [][2]string // as it stands there, once; what takes its place
}

var variants = []variant{{
	name: "pushrod-v", of: "pushrod-twin",
	lines: [][2]string{
		{`title = "Pushrod parallel twin, the whole engine"`, `title = "Pushrod V-twin, the whole engine"`},
		{`cylinders = ["left", "right"] `, `cylinders = ["front", "rear"] `},
		{"title = \"Barrels are cast\"\nchoice = [\"one\", \"each\"]\nvalue = \"one\"\n", "title = \"Barrels are cast\"\nchoice = [\"one\", \"each\"]\nvalue = \"each\"\n"},
		{"title = \"Heads are cast\"\nchoice = [\"one\", \"each\"]\nvalue = \"one\"\n", "title = \"Heads are cast\"\nchoice = [\"one\", \"each\"]\nvalue = \"each\"\n"},
		{"choice = [\"shafts\", \"pedestals\"]\nvalue = \"shafts\"\n", "choice = [\"shafts\", \"pedestals\"]\nvalue = \"pedestals\"\n"},
		{"choice = [\"hung\", \"bob-weights\"]\nvalue = \"hung\"\n", "choice = [\"hung\", \"bob-weights\"]\nvalue = \"bob-weights\"\n"},
		{"title = \"Top of the other cylinders, after the first\"\nwhen = { right-traces = true }\nvalue = \"0 deg\"\n", "title = \"Top of the other cylinders, after the first\"\nwhen = { right-traces = true }\nvalue = \"54 deg\"\n"},
		{`"The inner clip faces the other piston: one end home`, `"The inner clip is the one next to the frame: one end home`},
		{`"Left and right are the rider's for the whole job, also when a barrel lies turned over."`, `"Front and rear are the bike's for the whole job, also when a barrel lies turned over. Set the wheel to 0 at the top of the cylinder that is read."`},
		{`text = "Left and right parts are marked."`, `text = "Front and rear parts are marked."`},
		{`text = "Left and right parts lie apart, marked."`, `text = "Front and rear parts lie apart, marked."`},
		{`bolt = ["1", "2", "3", "4", "5", "6"] }`, `bolt = ["1", "2", "3", "4", "5", "6", "7", "8"] }`},
		{`bolt = ["1", "2", "3", "4", "5", "6", "7", "8"] }` + "\n    id = \"bolt-{bolt}\"\n    title = \"Head", `bolt = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"] }` + "\n    id = \"bolt-{bolt}\"\n    title = \"Head"},
	},
}, {
	name: "pushrod-two-shafts", of: "pushrod-twin",
	lines: [][2]string{
		{`title = "Pushrod parallel twin, the whole engine"`, `title = "Pushrod parallel twin with two camshafts, the whole engine"`},
		{"so many\"\nchoice = [\"one\", \"two\"]\nvalue = \"one\"\n", "so many\"\nchoice = [\"one\", \"two\"]\nvalue = \"two\"\n"},
	},
}, {
	name: "single-trial", of: "pushrod-twin",
	lines: [][2]string{
		{`title = "Pushrod parallel twin, the whole engine"`, `title = "Pushrod single, the whole engine"`},
		{`cylinders = ["left", "right"] `, `cylinders = ["single"] `},
		{`"Left and right are the rider's for the whole job, also when a barrel lies turned over."`, `"Left and right are the rider's for the whole job, also when the barrel lies turned over."`},
		{`text = "Left and right parts are marked."`, `text = "Parts that fit in two ways are marked."`},
		{`text = "Left and right parts lie apart, marked."`, `text = "Parts lie in their order, marked."`},
		{`"The inner clip faces the other piston: one end home`, `"The inner clip is the one on the drive side: one end home`},
		{`bolt = ["1", "2", "3", "4", "5", "6"] }`, `bolt = ["1", "2", "3", "4"] }`},
		{`bolt = ["1", "2", "3", "4", "5", "6", "7", "8"] }`, `bolt = ["1", "2", "3", "4", "5"] }`},
	},
}}

// Shipped lists the names of the plans that ship, in alphabetical order.
func Shipped() ([]string, error) {
	files, err := shipped.ReadDir("plans")
	if err != nil {
		return nil, fmt.Errorf("plans that ship: %w", err)
	}
	var names []string
	for _, f := range files {
		names = append(names, strings.TrimSuffix(f.Name(), ".toml"))
	}
	for _, v := range variants {
		names = append(names, v.name)
	}
	slices.Sort(names)
	return names, nil
}

// ShippedText is the text of a plan that ships, word for word.
func ShippedText(name string) ([]byte, error) {
	for _, v := range variants {
		if v.name == name {
			return v.text()
		}
	}
	text, err := shipped.ReadFile("plans/" + name + ".toml")
	if err != nil {
		names, listErr := Shipped()
		if listErr != nil {
			return nil, listErr
		}
		return nil, fmt.Errorf("no plan %s ships; there are %s", quoted(name), strings.Join(names, ", "))
	}
	return text, nil
}

func (v variant) text() ([]byte, error) {
	text, err := ShippedText(v.of)
	if err != nil {
		return nil, err
	}
	for _, l := range v.lines {
		if n := bytes.Count(text, []byte(l[0])); n != 1 {
			return nil, fmt.Errorf("plan %q: %q stands %d times in %q, want once", v.name, l[0], n, v.of)
		}
		text = bytes.Replace(text, []byte(l[0]), []byte(l[1]), 1)
	}
	return text, nil
}

// Load parses a plan that ships.
func Load(name string) (*Plan, error) {
	text, err := ShippedText(name)
	if err != nil {
		return nil, err
	}
	return Parse(name, text)
}
