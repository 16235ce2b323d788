package sheet

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"sync"

	"golang.org/x/image/font/sfnt"
)

// Liberation Sans, SIL Open Font License 1.1 (fonts/LICENSE.txt): Latin, Greek and Cyrillic letters. A PDF gets only the
// letters that it uses. They lie in the program packed, half as large, and are unpacked for the first sheet.
var (
	//go:embed fonts/LiberationSans-Regular.ttf.gz
	regularPacked []byte
	//go:embed fonts/LiberationSans-Bold.ttf.gz
	boldPacked []byte

	regular = sync.OnceValues(func() ([]byte, error) { return unpack(regularPacked) })
	bold    = sync.OnceValues(func() ([]byte, error) { return unpack(boldPacked) })
)

func unpack(packed []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("the sheet's font: %w", err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		return nil, fmt.Errorf("the sheet's font: %w", err)
	}
	return b, nil
}

// letters knows which characters the sheet's fonts have, and remembers those that were asked for and are not there.
type letters struct {
	fonts   []*sfnt.Font
	buf     sfnt.Buffer
	known   map[rune]bool
	lacking map[rune]bool
}

func newLetters() (*letters, error) {
	l := &letters{known: map[rune]bool{}, lacking: map[rune]bool{}}
	for _, font := range []func() ([]byte, error){regular, bold} {
		b, err := font()
		if err != nil {
			return nil, err
		}
		f, err := sfnt.Parse(b)
		if err != nil {
			return nil, fmt.Errorf("the sheet's font: %w", err)
		}
		l.fonts = append(l.fonts, f)
	}
	return l, nil
}

func (l *letters) has(r rune) bool {
	known, ok := l.known[r]
	if !ok {
		known = r >= ' ' && r <= 0xFFFF
		for _, f := range l.fonts {
			i, err := f.GlyphIndex(&l.buf, r)
			known = known && err == nil && i != 0
		}
		l.known[r] = known
	}
	return known
}

// spaces are the narrow spaces that set a number from its unit.
var spaces = strings.NewReplacer("\u202f", "\u00a0", "\u2009", "\u00a0", "\t", " ", "\r", "")

// fit writes what the fonts have, and each character that they lack as its code point: [U+6F22].
func (l *letters) fit(s string) string {
	s = minus(spaces.Replace(s))
	plain := true
	for _, r := range s {
		plain = plain && (r == '\n' || l.has(r))
	}
	if plain {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if r == '\n' || l.has(r) {
			b.WriteRune(r)
			continue
		}
		l.lacking[r] = true
		fmt.Fprintf(&b, "[U+%04X]", r)
	}
	return b.String()
}

// missed says which characters were written as code points; "" where none was.
func (l *letters) missed() string {
	if len(l.lacking) == 0 {
		return ""
	}
	var codes []string
	for _, r := range slices.Sorted(maps.Keys(l.lacking)) {
		codes = append(codes, fmt.Sprintf("U+%04X", r))
	}
	return "The font of this sheet lacks " + strings.Join(codes, ", ") + ": each stands as its code point, in brackets."
}
