package markup

import (
	"fmt"
	"reflect"
	"strings"
)

// escaper makes what an action gives safe in its place. The value is invalid where there was nothing.
type escaper func(v reflect.Value) (string, error)

// text gives what a value is written as, and its kind where it is a text that answers for itself.
func text(v reflect.Value) (string, any) {
	if !v.IsValid() {
		return "", nil
	}
	v = through(v)
	if !v.IsValid() {
		return "", nil
	}
	if !v.CanInterface() {
		return fmt.Sprint(v), nil
	}
	switch x := v.Interface().(type) {
	case string:
		return x, nil
	case HTML:
		return string(x), x
	case CSS:
		return string(x), x
	case URL:
		return string(x), x
	case nil:
		return "", nil
	default:
		return fmt.Sprint(x), nil
	}
}

// through follows pointers, except to what says itself how it is written.
func through(v reflect.Value) reflect.Value {
	for v.Kind() == reflect.Pointer || v.Kind() == reflect.Interface {
		if v.IsNil() {
			return reflect.Value{}
		}
		if v.Kind() == reflect.Pointer && (v.Type().Implements(stringerType) || v.Type().Implements(errorType)) {
			return v
		}
		v = v.Elem()
	}
	return v
}

var (
	plain    = strings.NewReplacer("\x00", "\uFFFD", `"`, "&#34;", "&", "&amp;", "'", "&#39;", "+", "&#43;", "<", "&lt;", ">", "&gt;")
	entities = strings.NewReplacer("\x00", "\uFFFD", `"`, "&#34;", "'", "&#39;", "+", "&#43;", "<", "&lt;", ">", "&gt;") // & kept: they are written already
)

func escapeText(v reflect.Value) (string, error) {
	s, kind := text(v)
	if _, ok := kind.(HTML); ok {
		return s, nil
	}
	return plain.Replace(s), nil
}

func escapeRaw(v reflect.Value) (string, error) {
	s, kind := text(v)
	if _, ok := kind.(HTML); ok {
		return entities.Replace(s), nil
	}
	return plain.Replace(s), nil
}

func escapeAttr(v reflect.Value) (string, error) {
	s, kind := text(v)
	if _, ok := kind.(HTML); ok {
		return "", fmt.Errorf("a piece of HTML in an attribute")
	}
	return plain.Replace(s), nil
}

func onlyStyle(v reflect.Value) (string, error) {
	s, kind := text(v)
	if _, ok := kind.(CSS); !ok {
		return "", fmt.Errorf("a value of the type %s in a style sheet", v.Type())
	}
	return s, nil
}

// refused stands for an address that could run something.
const refused = "#ZgotmplZ"

func escapeAddress(v reflect.Value) (string, error) {
	s, kind := text(v)
	if _, ok := kind.(URL); !ok && !safeScheme(s) {
		s = refused
	}
	return plain.Replace(percent(s, true)), nil
}

func escapeRoute(v reflect.Value) (string, error) {
	s, _ := text(v)
	return plain.Replace(percent(s, true)), nil
}

func escapeQuery(v reflect.Value) (string, error) {
	s, kind := text(v)
	_, whole := kind.(URL)
	return plain.Replace(percent(s, whole)), nil
}

// safeScheme reports whether an address leads to a page or a letter, or has no scheme at all.
func safeScheme(s string) bool {
	scheme, _, ok := strings.Cut(s, ":")
	if !ok || strings.Contains(scheme, "/") {
		return true
	}
	return strings.EqualFold(scheme, "http") || strings.EqualFold(scheme, "https") || strings.EqualFold(scheme, "mailto")
}

// percent writes what is no character of an address as %XX (RFC 3986, 2). In a whole address the reserved ones keep their
// meaning, and what is written so already stays.
func percent(s string, whole bool) string {
	var b strings.Builder
	for i := range len(s) {
		c := s[i]
		switch {
		case isLetter(c) || c >= '0' && c <= '9' || strings.IndexByte("-._~", c) >= 0:
			b.WriteByte(c)
		case whole && strings.IndexByte("!#$&*+,/:;=?@[]", c) >= 0:
			b.WriteByte(c)
		case whole && c == '%' && i+2 < len(s) && isHex(s[i+1]) && isHex(s[i+2]):
			b.WriteByte(c)
		default:
			fmt.Fprintf(&b, "%%%02x", c)
		}
	}
	return b.String()
}

func isHex(c byte) bool { return c >= '0' && c <= '9' || c|0x20 >= 'a' && c|0x20 <= 'f' }
