package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/spf13/cobra"
)

// addJSONFlag gives a command that prints results its --json.
func addJSONFlag(cmd *cobra.Command, asJSON *bool) {
	cmd.Flags().BoolVar(asJSON, "json", false, "print JSON, with units in the names and all digits")
}

// printJSON writes a value as indented JSON with a final line feed.
func printJSON(w io.Writer, value any) error {
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	if err := enc.Encode(value); err != nil {
		return err
	}
	_, err := w.Write(escapedJSON(text.Bytes()))
	return err
}

// machineNumber writes a number with all its digits, as CSV and TSV carry it;
// not-a-number, which stands for "none", is empty.
func machineNumber(v float64) string { return string(appendMachineNumber(nil, v)) }

// appendMachineNumber is machineNumber behind other text.
func appendMachineNumber(text []byte, v float64) []byte {
	switch {
	case math.IsNaN(v):
		return text
	case v != 0 && math.Abs(v) < 1e-6:
		return strconv.AppendFloat(text, v, 'g', -1, 64)
	}
	return strconv.AppendFloat(text, v, 'f', -1, 64)
}

// counted writes a number with its noun: "1 mark", "3 marks".
func counted(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}
