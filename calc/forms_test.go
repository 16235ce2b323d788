package calc_test

import (
	"os"
	"testing"

	"thoud/calc"
	"thoud/calc/form"
)

func TestMain(m *testing.M) {
	calc.ReadForm, calc.WriteForm = form.Read, form.Write
	os.Exit(m.Run())
}
