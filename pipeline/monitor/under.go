package monitor

import (
	"bytes"
	"regexp"
)

// Pages that are served under a path of their own, as a hub serves those of each bench, have that path before every address
// of theirs. The templates write addresses from the host's root; what they wrote is changed here, once, and so are the few
// addresses in the scripts. No text of a gauge, a plan or a person can be taken for one: a quotation mark in a text is
// written &#34;.

// under puts a path before the addresses in what a template wrote.
func under(root string, page []byte) []byte {
	if root == "" {
		return page
	}
	// Regions have it already when they are put into a page.
	page = bytes.ReplaceAll(page, []byte(`="`+root+`/`), []byte(`="/`))
	return bytes.ReplaceAll(page, []byte(`="/`), []byte(`="`+root+`/`))
}

// scriptAddress is an address in a script: a text that begins with a slash and a letter.
var scriptAddress = regexp.MustCompile("([\"`])/([a-z])")

// scriptUnder puts a path before the addresses in a script.
func scriptUnder(root string, script []byte) []byte {
	if root == "" {
		return script
	}
	return scriptAddress.ReplaceAll(script, []byte("${1}"+root+"/${2}"))
}
