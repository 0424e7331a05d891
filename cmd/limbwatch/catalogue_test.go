package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"limbwatch/catalog"
	"limbwatch/catalog/store"
)

func TestFilesThatAreNoCatalogue(t *testing.T) {
	folder := t.TempDir()
	text := filepath.Join(folder, "text.db")
	require.NoError(t, os.WriteFile(text, []byte("this is a letter to somebody\n"), 0o644))
	for _, c := range []struct{ name, path, says string }{
		{"a text", text, "is no catalogue of limbwatch"},
		{"a folder", folder, "it is a folder"},
		{"in a folder that is not there", filepath.Join(folder, "no", "such", "c.db"), "there is no folder"},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, args := range [][]string{{"log"}, {"frame", "list"}, {"mark", "add", "sunspot", "--at", "2026-03-14T15:23:10Z", "--place", "N08E14"}} {
				got := refused(t, exitFailed, c.says, append(args, "--catalog", c.path)...)
				assert.Contains(t, got.stderr, "limbwatch: hint: ")
				assert.Empty(t, got.stdout)
			}
		})
	}
	now, err := os.ReadFile(text)
	require.NoError(t, err)
	assert.Equal(t, "this is a letter to somebody\n", string(now), "a file of something else is not touched")
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Len(t, left, 1, "nothing was made beside it")
}

func TestTheCatalogueIsChosen(t *testing.T) {
	folder := newCatalogue(t)
	done(t, add("sunspot", "--place", "N08E14")...)
	other := filepath.Join(folder, "other.db")
	done(t, add("plage", "--place", "N08E14", "--catalog", other)...)
	assert.Equal(t, "plage", asJSON[[]object](t, "log", "--catalog", other)[0]["kind"])
	assert.Equal(t, "sunspot", asJSON[[]object](t, "log")[0]["kind"])
	refused(t, exitMisused, "--folder", "demo", "--catalog", other)
}

func TestCatalogueOfANewerProgram(t *testing.T) {
	// What the store says of one (its own tests make one), with the command's advice.
	err := adviseOpen(&store.NewerError{Have: 99, Know: 2})
	assert.Contains(t, err.Error(), "written by a newer limbwatch (schema 99")
	require.Len(t, hints(err), 1)
	assert.Contains(t, hints(err)[0], "use the newer limbwatch")
}

func TestAStaleEditSaysSo(t *testing.T) {
	err := adviseStore(&store.StaleError{Noun: "mark", ID: "M1", Yours: catalog.Mark{}, Theirs: catalog.Mark{}, YourRevision: 3, NewRevision: 4})
	assert.Contains(t, err.Error(), "yours was made from revision 3, it stands at 4")
	require.NotEmpty(t, hints(err))
	assert.Contains(t, hints(err)[0], "mark show M1")
	assert.Equal(t, exitFailed, exitCode(err, true))
}

// anotherUser is whom files of root are closed to.
const anotherUser = 65534

// asProgram starts this test binary as the program. As root, whom no file is closed
// to, it runs as another user.
func asProgram(t *testing.T, args ...string) said {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	cmd := exec.Command(self, args...)
	if os.Geteuid() == 0 {
		open := filepath.Join(openFolder(t), "limbwatch")
		from, err := os.Open(self)
		require.NoError(t, err)
		defer from.Close()
		to, err := os.OpenFile(open, os.O_CREATE|os.O_WRONLY, 0o755)
		require.NoError(t, err)
		_, err = io.Copy(to, from)
		require.NoError(t, err)
		require.NoError(t, to.Close())
		cmd = exec.Command(open, args...)
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: anotherUser, Gid: anotherUser}}
	}
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	cmd.Dir = "/"
	cmd.Env = append(os.Environ(), actAsLimbwatch+"=yes")
	if err := cmd.Run(); err != nil && cmd.ProcessState == nil {
		require.NoError(t, err)
	}
	return said{cmd.ProcessState.ExitCode(), stdout.String(), stderr.String()}
}

// openFolder is a folder that every user may read.
func openFolder(t *testing.T) string {
	t.Helper()
	folder, err := os.MkdirTemp("", "limbwatch-open-")
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, os.Chmod(folder, 0o755))
		require.NoError(t, os.RemoveAll(folder))
	})
	require.NoError(t, os.Chmod(folder, 0o755))
	return folder
}

func TestACatalogueThatMayNotBeWritten(t *testing.T) {
	folder := openFolder(t)
	path := filepath.Join(folder, "catalogue.db")
	done(t, add("sunspot", "--place", "N08E14", "--catalog", path)...)
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.Chmod(path, 0o444))
	require.NoError(t, os.Chmod(folder, 0o555))
	got := asProgram(t, add("plage", "--place", "N08E14", "--catalog", path)...)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.stderr, "may not be read and written")
	assert.Contains(t, got.stderr, "hint")
	assert.NotContains(t, got.stderr, "no catalogue of limbwatch", "it is one")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(before, after))

	got = asProgram(t, "log", "--catalog", path)
	assert.Equal(t, exitDone, got.code, "it can be read: %s", got.stderr)
	assert.Contains(t, got.stdout, "sunspot")
	require.NoError(t, os.Chmod(folder, 0o777)) // where files could be made, none is left in the way
	got = asProgram(t, "log", "--catalog", path)
	assert.Equal(t, exitDone, got.code, "%s", got.stderr)
	for _, end := range []string{"-wal", "-shm"} {
		assert.NoFileExists(t, path+end)
	}
	require.NoError(t, os.Chmod(folder, 0o555))

	got = asProgram(t, "log", "--catalog", filepath.Join(folder, "new.db"))
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.stderr, fmt.Sprint(filepath.Join(folder, "new.db")))
}

func TestPicturesThatAreNone(t *testing.T) {
	folder := newCatalogue(t)
	empty := filepath.Join(folder, "empty.png")
	require.NoError(t, os.WriteFile(empty, nil, 0o644))
	for _, command := range [][]string{{"frame", "add", "--at", "2026-03-14T15:23:10Z"}, {"disc", "find"}} {
		for _, c := range []struct{ path, says string }{
			{filepath.Join(folder, "missing.png"), "no such file"},
			{folder, "is a folder, no file"},
			{empty, "empty.png"},
		} {
			got := refused(t, exitFailed, c.says, append(command, c.path)...)
			assert.Empty(t, got.stdout)
		}
	}
	refused(t, exitMisused, "without a name", "frame", "add", "")
	refused(t, exitFailed, "there is no catalogue yet", "sitting", "list") // nothing was begun for a picture that is none
}

// The day's backup holds the mark that was just made; it is one a day, and nobody's tests
// wait for it who do not want it.
func TestTheDaysBackupIsMadeByItself(t *testing.T) {
	folder := newCatalogue(t)
	t.Setenv(backupsVariable, "")
	backups := func() int {
		found, err := filepath.Glob(filepath.Join(folder, "catalogue.db.backups", "*.db"))
		require.NoError(t, err)
		return len(found)
	}
	done(t, "observer", "add", "Wren Holloway")
	assert.Zero(t, backups(), "before the day's first mark there is none")
	done(t, add("sunspot", "--place", "N08E14")...)
	done(t, add("plage", "--place", "N08E14")...)
	assert.Equal(t, 1, backups())
	listed := asJSON[[]object](t, "catalogue", "restore")
	require.Len(t, listed, 1)
	tried := asJSON[object](t, "catalogue", "restore", filepath.Base(listed[0].text(t, "file")), "--dry-run")
	assert.Len(t, tried["changes_given_up"], 1, "the second mark")
	assert.Len(t, asJSON[[]object](t, "log"), 2)
	assert.Equal(t, true, asJSON[object](t, "catalogue", "check", "--pictures")["sound"])
}
