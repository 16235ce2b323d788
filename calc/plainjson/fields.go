package plainjson

// Text reads a field that is a text, where it is next. So do the others, each for what it is named after: a field that is not
// there leaves what it is read into as it is.
func Text[S ~string](r *Reader, name string, to *S) {
	if r.Field(name) {
		*to = S(r.String())
	}
}

// Texts reads a field that is a list of texts.
func (r *Reader) Texts(name string, to *[]string) {
	if r.Field(name) {
		*to = Each(r, (*Reader).String)
	}
}

// Whole reads a field that is a whole number.
func Whole[N ~int](r *Reader, name string, to *N) {
	if r.Field(name) {
		*to = N(r.Int())
	}
}

// Count reads a field that is a whole number of 64 bits.
func (r *Reader) Count(name string, to *int64) {
	if r.Field(name) {
		*to = r.Int64()
	}
}

// Counts reads a field that is a list of such.
func (r *Reader) Counts(name string, to *[]int64) {
	if r.Field(name) {
		*to = r.Int64s()
	}
}

// Place reads a field that is a whole number of 64 bits and not below nought.
func (r *Reader) Place(name string, to *uint64) {
	if r.Field(name) {
		*to = r.Uint64()
	}
}

// Number reads a field that is a number.
func (r *Reader) Number(name string, to *float64) {
	if r.Field(name) {
		*to = r.Float()
	}
}

// MaybeNumber reads a field that is a number or null.
func (r *Reader) MaybeNumber(name string, to **float64) {
	if r.Field(name) && !r.Null() {
		x := r.Float()
		*to = &x
	}
}

// Numbers reads a field that is a list of numbers.
func (r *Reader) Numbers(name string, to *[]float64) {
	if r.Field(name) {
		*to = Each(r, (*Reader).Float)
	}
}

// Truth reads a field that is true or false.
func (r *Reader) Truth(name string, to *bool) {
	if r.Field(name) {
		*to = r.Flag()
	}
}

// Blob reads a field that is bytes.
func (r *Reader) Blob(name string, to *[]byte) {
	if r.Field(name) {
		*to = r.Bytes()
	}
}

// Blobs reads a field that is a list of bytes.
func (r *Reader) Blobs(name string, to *[][]byte) {
	if r.Field(name) {
		*to = Each(r, (*Reader).Bytes)
	}
}
