package calc

import "thoud/calc/quantity"

// ReadForm and WriteForm are calc/form's, for the tests in this package: that package imports this one, so they are put
// here by forms_test.go, which stands outside.
var (
	ReadForm  func(Method, []byte) (Request, error)
	WriteForm func(Result, quantity.System) []byte
)
