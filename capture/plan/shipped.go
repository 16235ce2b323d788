package plan

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed plans/*.toml
var shipped embed.FS

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
	return names, nil
}

// ShippedText is the text of a plan that ships, word for word.
func ShippedText(name string) ([]byte, error) {
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

// Load parses a plan that ships.
func Load(name string) (*Plan, error) {
	text, err := ShippedText(name)
	if err != nil {
		return nil, err
	}
	return Parse(name, text)
}
