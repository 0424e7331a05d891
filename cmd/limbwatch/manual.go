//go:build manual

package main

import (
	"os"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

// addManual adds the command that writes the manual pages. It is in no release: what it needs
// is built in with the tag "manual" alone (see .ci/release).
func addManual(root *cobra.Command) {
	root.AddCommand(&cobra.Command{
		Use:     "manual FOLDER",
		Short:   "Write the manual pages, one a command",
		Example: "  limbwatch manual man1",
		Hidden:  true,
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return err
			}
			root.DisableAutoGenTag = true // it carries today's date; SOURCE_DATE_EPOCH names the pages'
			return doc.GenManTree(root, &doc.GenManHeader{Section: "1", Source: programName(), Manual: "limbwatch"}, args[0])
		},
	})
}
