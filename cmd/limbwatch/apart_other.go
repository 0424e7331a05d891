//go:build !linux

package main

import "errors"

// canStartApart: here a command makes the day's backup itself, and ends when it is made.
const canStartApart = false

func startApart(...string) error { return errors.ErrUnsupported }
