package main

import (
	"os"
	"os/exec"
	"syscall"
)

// canStartApart: a program goes on by itself when this one has ended.
const canStartApart = true

// startApart starts this program once more, in a session of its own, so that no Ctrl-C and
// no closed terminal reaches it, and lets it have what of the machine others leave.
func startApart(args ...string) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	cmd := exec.Command(self, args...)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
	cmd.Dir = "/" // it holds no folder that somebody may want to take off
	if err := cmd.Start(); err != nil {
		return err
	}
	const lowest = 19
	// Of the group, for a process's own priority is that of its first thread here.
	_ = syscall.Setpriority(syscall.PRIO_PGRP, cmd.Process.Pid, lowest)
	return cmd.Process.Release()
}
