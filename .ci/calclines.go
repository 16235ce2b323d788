//go:build ignore

// Command calclines answers requests line by line, for checking the methods against other libraries: a line in is
// {"method": name, "form": {…}}, a line out is what "thoud calc" would write, or {"malformed": why}.
package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"os"

	"thoud/calc"
	"thoud/calc/form"
	"thoud/calc/quantity"
)

func main() {
	if err := answer(); err != nil {
		fmt.Fprintln(os.Stderr, "calclines:", err)
		os.Exit(1)
	}
}

func answer() error {
	in := bufio.NewScanner(os.Stdin)
	in.Buffer(nil, 16<<20)
	out := bufio.NewWriter(os.Stdout)
	for in.Scan() {
		var line struct {
			Method string
			Form   json.RawMessage
		}
		if err := json.Unmarshal(in.Bytes(), &line); err != nil {
			return err
		}
		if err := json.Compact(new(bytes.Buffer), line.Form); err != nil {
			return err
		}
		b, err := one(line.Method, line.Form)
		if err != nil {
			b, _ = json.Marshal(map[string]string{"malformed": err.Error()})
		}
		var c bytes.Buffer
		if err := json.Compact(&c, b); err != nil {
			return err
		}
		c.WriteByte('\n')
		if _, err := out.Write(c.Bytes()); err != nil {
			return err
		}
	}
	if err := in.Err(); err != nil {
		return err
	}
	return out.Flush()
}

func one(method string, asked []byte) ([]byte, error) {
	m, ok := calc.Find(method)
	if !ok {
		return nil, fmt.Errorf("no method %s", method)
	}
	req, err := form.Read(m, asked)
	if err != nil {
		return nil, err
	}
	res, err := calc.Run(req)
	if err != nil {
		return nil, err
	}
	return form.Write(res, quantity.Metric), nil
}
