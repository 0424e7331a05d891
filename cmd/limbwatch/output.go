package main

import (
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
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(value)
}

// machineNumber writes a number with all its digits, as CSV and TSV carry it;
// not-a-number, which stands for "none", is empty.
func machineNumber(v float64) string {
	switch {
	case math.IsNaN(v):
		return ""
	case v != 0 && math.Abs(v) < 1e-6:
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// counted writes a number with its noun: "1 mark", "3 marks".
func counted(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}
