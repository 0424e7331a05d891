//go:build !manual

package main

import "github.com/spf13/cobra"

// addManual adds nothing: a program for observers writes no manual pages.
func addManual(*cobra.Command) {}
