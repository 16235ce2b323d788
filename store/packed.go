package store

import (
	"bytes"
	"compress/flate"
	"errors"
	"fmt"
	"io"
	"sync"
)

// A packed body begins with the sign of how it is packed.
const (
	packedPlain   = 'p' // as it is
	packedDeflate = 'z' // deflate (RFC 1951)
)

// packFrom is the size from which packing pays.
const packFrom = 128

// packers and unpackers are kept: one takes hundreds of kilobytes to set up.
var (
	packers   = sync.Pool{New: func() any { w, _ := flate.NewWriter(nil, flate.BestSpeed); return w }} // the level is right, so it cannot fail
	unpackers = sync.Pool{New: func() any { return &unpacker{inflate: flate.NewReader(nil)} }}
)

// unpacker unpacks into a buffer of its own: how long a body becomes is known only afterwards.
type unpacker struct {
	inflate io.ReadCloser
	from    bytes.Reader
	into    bytes.Buffer
}

// mostKept is the largest buffer that an unpacker keeps.
const mostKept = 1 << 19

// pack makes a body small.
func pack(body []byte) []byte {
	if len(body) < packFrom {
		return append([]byte{packedPlain}, body...)
	}
	var b bytes.Buffer
	b.Grow(len(body)/4 + 64)
	b.WriteByte(packedDeflate)
	w := packers.Get().(*flate.Writer)
	defer packers.Put(w)
	w.Reset(&b)
	// A buffer in memory takes every write.
	_, _ = w.Write(body)
	_ = w.Close()
	return b.Bytes()
}

// errPacked marks a body that cannot be unpacked.
var errPacked = errors.New("cannot be unpacked")

// mostUnpacked bounds what a body may become, so that a damaged or foreign one cannot fill the memory: a request of a
// full sweep is a tenth of it.
const mostUnpacked = 64 << 20

// unpack gives the body as it was, in memory of its own.
func unpack(packed []byte) (body []byte, err error) {
	err = unpacked(packed, func(b []byte) { body = bytes.Clone(b) })
	return body, err
}

// unpacked gives fn the body as it was; it is fn's only until that returns.
func unpacked(packed []byte, fn func(body []byte)) error {
	if len(packed) == 0 {
		return fmt.Errorf("%w: empty", errPacked)
	}
	switch packed[0] {
	case packedPlain:
		fn(packed[1:])
		return nil
	case packedDeflate:
	default:
		return fmt.Errorf("%w: packed in the way %q, which this build does not know", errPacked, packed[0])
	}
	u := unpackers.Get().(*unpacker)
	defer unpackers.Put(u)
	u.from.Reset(packed[1:])
	if err := u.inflate.(flate.Resetter).Reset(&u.from, nil); err != nil {
		return fmt.Errorf("%w: %w", errPacked, err)
	}
	// A buffer that one large body has made large is not kept for all that come after.
	if u.into.Cap() > mostKept {
		u.into = bytes.Buffer{}
	}
	u.into.Reset()
	if _, err := u.into.ReadFrom(io.LimitReader(u.inflate, mostUnpacked+1)); err != nil {
		return fmt.Errorf("%w: %w", errPacked, err)
	}
	if u.into.Len() > mostUnpacked {
		return fmt.Errorf("%w: it would be more than %d MiB", errPacked, mostUnpacked>>20)
	}
	fn(u.into.Bytes())
	return nil
}
