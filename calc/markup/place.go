package markup

import (
	"fmt"
	"strings"
	"text/template/parse"
)

// place is where in a page the writer stands.
type place struct {
	in      where
	element string // of the tag, or the raw text
	attr    string // whose value it is in
	quote   byte   // that ends the value
	address part   // of an address in such a value
}

type where int

const (
	between where = iota // tags
	tag                  // in a tag, outside a value
	value                // in an attribute's quoted value
	raw                  // the text of script, style, title or textarea, where no tag begins
)

// part of an address.
type part int

const (
	start part = iota // nothing of it is written yet
	route             // before its question
	query             // in its question or its fragment
)

// placed finds for each action of a template the escaper of its place.
func (s *Set) placed(tree *parse.Tree) error {
	p := placer{set: s, tree: tree}
	end, err := p.list(place{}, tree.Root)
	if err == nil && end != (place{}) {
		err = p.fault(tree.Root, "the template ends within a tag or an element's raw text")
	}
	return err
}

type placer struct {
	set  *Set
	tree *parse.Tree
}

func (p placer) fault(n parse.Node, format string, args ...any) error {
	at, _ := p.tree.ErrorContext(n)
	return fmt.Errorf("template: %s: %s", at, fmt.Sprintf(format, args...))
}

func (p placer) list(at place, l *parse.ListNode) (place, error) {
	if l == nil {
		return at, nil
	}
	for _, n := range l.Nodes {
		var err error
		if at, err = p.node(at, n); err != nil {
			return at, err
		}
	}
	return at, nil
}

func (p placer) node(at place, n parse.Node) (place, error) {
	switch n := n.(type) {
	case *parse.TextNode:
		after, err := at.past(string(n.Text))
		if err != nil {
			return at, p.fault(n, "%v", err)
		}
		return after, nil
	case *parse.ActionNode:
		if len(n.Pipe.Decl) > 0 {
			return at, nil
		}
		e, err := at.escaper()
		if err != nil {
			return at, p.fault(n, "%v", err)
		}
		p.set.escapes[n] = e
		if at.address == start {
			at.address = route
		}
		return at.tidy(), nil
	case *parse.IfNode:
		return p.branch(at, &n.BranchNode)
	case *parse.WithNode:
		return p.branch(at, &n.BranchNode)
	case *parse.RangeNode:
		after, err := p.branch(at, &n.BranchNode)
		if err == nil && after != at {
			err = p.fault(n, "a range ends elsewhere in the page than it began, so its second turn would stand wrong")
		}
		return at, err
	case *parse.TemplateNode:
		if at != (place{}) {
			return at, p.fault(n, "a template is called within a tag or an element's raw text")
		}
		return at, nil
	}
	return at, p.fault(n, "{{%s}} is not known here", n)
}

func (p placer) branch(at place, b *parse.BranchNode) (place, error) {
	one, err := p.list(at, b.List)
	if err != nil {
		return at, err
	}
	other, err := p.list(at, b.ElseList)
	if err != nil {
		return at, err
	}
	if one != other {
		return at, p.fault(b, "its branches end in different places of the page")
	}
	return one, nil
}

// tidy drops what has no meaning in a place, so that equal places are equal.
func (at place) tidy() place {
	switch at.in {
	case between:
		return place{}
	case value:
		if !isAddress(at.attr) {
			at.address = start
		}
		return at
	}
	return place{in: at.in, element: at.element}
}

// escaper gives what makes a value safe in this place.
func (at place) escaper() (escaper, error) {
	switch at.in {
	case between:
		return escapeText, nil
	case raw:
		switch at.element {
		case "title", "textarea":
			return escapeRaw, nil
		case "style":
			return onlyStyle, nil
		}
		return nil, fmt.Errorf("a value in a %s", at.element)
	case value:
		switch {
		case strings.HasPrefix(at.attr, "on") || at.attr == "style" || at.attr == "srcset" || at.attr == "srcdoc":
			return nil, fmt.Errorf("a value in the attribute %s", at.attr)
		case !isAddress(at.attr):
			return escapeAttr, nil
		case at.address == start:
			return escapeAddress, nil
		case at.address == route:
			return escapeRoute, nil
		}
		return escapeQuery, nil
	}
	return nil, fmt.Errorf("a value in a tag, outside a quoted attribute")
}

// isAddress reports whether an attribute holds an address: those of HTML, and whatever its name says so of.
func isAddress(attr string) bool {
	switch name := strings.TrimPrefix(attr, "data-"); name {
	case "action", "archive", "background", "cite", "classid", "codebase", "data", "formaction", "href", "icon", "longdesc", "manifest", "poster", "profile", "src", "usemap", "xmlns":
		return true
	default:
		if _, after, ok := strings.Cut(name, ":"); ok {
			return isAddress(after)
		}
		return strings.Contains(name, "src") || strings.Contains(name, "uri") || strings.Contains(name, "url")
	}
}
