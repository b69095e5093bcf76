package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"sidetone/audio/models/modelstest"
	"sidetone/audio/recognise/kept"
)

// asProgram makes the test binary the program itself, for tests that kill it.
const asProgram = "SIDETONE_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
	}
	dir, err := os.MkdirTemp("", "sidetone-test")
	if err == nil {
		err = os.Setenv(kept.EnvDir, dir) // never the user's own
	}
	if err != nil {
		panic(err)
	}
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

// program is a command line as a process of its own, which keeps its words in a
// folder of its own.
func program(t *testing.T, words string, args ...string) (cmd *exec.Cmd, stderr *bytes.Buffer) {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd = exec.Command(exe, args...)
	cmd.Env = append(os.Environ(), asProgram+"=1", kept.EnvDir+"="+words)
	stderr = &bytes.Buffer{}
	cmd.Stderr = stderr
	return cmd, stderr
}

// piecesIn counts what is kept in a folder.
func piecesIn(t *testing.T, dir string) (n int) {
	t.Helper()
	err := filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.HasPrefix(d.Name(), "new-") {
			n++
		}
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// lessonIn copies the first seconds of the demo lesson into an empty folder.
func lessonIn(t *testing.T, seconds int) (dir, path string) {
	t.Helper()
	dir = t.TempDir()
	return dir, put(t, filepath.Join(dir, "lesson.wav"), []byte(read(t, demoFile("lesson.wav"))[:44+seconds*32000]))
}

func waitFor(t *testing.T, what string, until func() bool) {
	t.Helper()
	for deadline := time.Now().Add(2 * time.Minute); !until(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("waited in vain for %s", what)
		}
	}
}

func TestWhatWasHeardBeforeAKillIsPickedUpOnTheNextRun(t *testing.T) {
	set := modelstest.Find(t)
	dir, lesson := lessonIn(t, 30)
	words := t.TempDir()
	cmd, _ := program(t, words, "debrief", lesson, "--models", set.Dir, "--threads", "1")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "a few pieces", func() bool { return piecesIn(t, words) >= 2 })
	if err := cmd.Process.Kill(); err != nil { // SIGKILL
		t.Fatal(err)
	}
	cmd.Wait()
	there := piecesIn(t, words)
	if got := files(t, dir); got != "lesson.wav" {
		t.Errorf("the killed run left %q", got)
	}

	t.Setenv(kept.EnvDir, words)
	code, resumed, stderr := sidetone(t, "debrief", lesson, "--models", set.Dir, "--no-html", "--json", "-")
	if code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	said, _, _ := strings.Cut(stderr, " of ")
	if n, err := strconv.Atoi(said); err != nil || n != there {
		t.Errorf("%d pieces were kept before the kill, the next run says: %s", there, stderr)
	}
	code, anew, stderr := sidetone(t, "debrief", lesson, "--models", set.Dir, "--no-html", "--json", "-", "--keep-nothing")
	if code != exitDone || anew != resumed {
		t.Errorf("exit status %d, %s; heard anew it is not what it was picked up as", code, stderr)
	}
	// Everything is known now; --fresh does not look.
	_, again, stderr := sidetone(t, "debrief", lesson, "--models", set.Dir, "--no-html", "--json", "-")
	if n := strconv.Itoa(piecesIn(t, words)); again != resumed || !strings.HasPrefix(stderr, n+" of "+n+" stretches") {
		t.Errorf("of %s pieces: %s", n, stderr)
	}
	code, fresh, stderr := sidetone(t, "debrief", lesson, "--models", set.Dir, "--no-html", "--json", "-", "--fresh")
	if code != exitDone || fresh != resumed || strings.Contains(stderr, "earlier run") {
		t.Errorf("with --fresh: exit status %d: %s", code, stderr)
	}
}

// Ctrl-C, at different moments, leaves nothing behind. That takes less than a
// second; the bound is wider for machines under load.
func TestCtrlCLeavesCleanly(t *testing.T) {
	set := modelstest.Find(t)
	for _, c := range []struct {
		name string
		wait func(words string) bool
	}{
		{"while the models are loaded", func(words string) bool {
			_, err := os.Stat(words)
			return err == nil
		}},
		{"while listening", func(words string) bool { return piecesIn(t, words) >= 2 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, lesson := lessonIn(t, 120)
			words := filepath.Join(t.TempDir(), "words")
			cmd, stderr := program(t, words, "debrief", lesson, "--models", set.Dir)
			temp := t.TempDir()
			cmd.Env = append(cmd.Env, "TMPDIR="+temp)
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			waitFor(t, c.name, func() bool { return c.wait(words) })
			asked := time.Now()
			if err := cmd.Process.Signal(syscall.SIGINT); err != nil {
				t.Fatal(err)
			}
			cmd.Wait()
			took := time.Since(asked)
			t.Logf("left %v after Ctrl-C", took)
			if took > 3*time.Second {
				t.Errorf("left %v after Ctrl-C", took)
			}
			if code := cmd.ProcessState.ExitCode(); code != exitFailure {
				t.Errorf("exit status %d", code)
			}
			if got := strings.TrimSpace(stderr.String()); got != stopped {
				t.Errorf("said %q", got)
			}
			if got := files(t, dir) + files(t, temp); got != "lesson.wav" {
				t.Errorf("left behind: %q", got)
			}
		})
	}
}

// A disk of 64 KB, seen only by the processes in it.
func TestAFullDiskIsSaidPlainlyAndLeavesNothingHalfWritten(t *testing.T) {
	if err := exec.Command("unshare", "-rm", "mount", "-t", "tmpfs", "none", t.TempDir()).Run(); err != nil {
		t.Skipf("no disk can be made for the test: %v", err)
	}
	lesson := captions(t, t.TempDir())
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, args, file string }{
		{"the page", "--html page.html", "page.html"},
		{"the JSON", "--no-html --json debrief.json", "debrief.json"},
	} {
		t.Run(c.name, func(t *testing.T) {
			// One block of 4 KB is left, and an older debrief stands where the new one goes.
			script := `mount -t tmpfs -o size=64k none "$1" && cd "$1" && echo older > ` + c.file + ` &&
				head -c 57344 /dev/zero > ballast && "$2" debrief "$3" ` + c.args + `; echo "exit status $?"; ls -A; cat ` + c.file
			cmd := exec.Command("unshare", "-rm", "sh", "-c", script, "sh", t.TempDir(), exe, lesson)
			cmd.Env = append(os.Environ(), asProgram+"=1")
			var stderr bytes.Buffer
			cmd.Stderr = &stderr
			out, _ := cmd.Output()
			if got := string(out); !strings.Contains(got, "exit status 1\n") || !strings.HasSuffix(got, "ballast\n"+c.file+"\nolder\n") {
				t.Errorf("it ends with %q", got)
			}
			if got := stderr.String(); strings.Count(got, "\n") != 1 || !strings.Contains(got, "the disk is full") || !strings.Contains(got, c.file) {
				t.Errorf("said %q", got)
			}
		})
	}
}

func TestOutputThatCannotBeTakenIsAFailure(t *testing.T) {
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip(err)
	}
	defer full.Close()
	dir := t.TempDir()
	lesson := captions(t, dir)
	for _, args := range [][]string{
		{"debrief", lesson, "--no-html"},
		{"debrief", lesson, "--no-html", "--json", "-"},
		{"debrief", lesson, "--html", "/dev/full"},
		{"debrief", lesson, "--no-html", "--json", "/dev/full"},
	} {
		var stderr bytes.Buffer
		if code := run(args, full, &stderr); code != exitFailure || !strings.Contains(stderr.String(), "disk is full") && !strings.Contains(stderr.String(), "no space") {
			t.Errorf("%q: exit status %d, %s", args[2:], code, stderr.String())
		}
	}
	if st, err := os.Stat("/dev/full"); err != nil || st.Mode().IsRegular() {
		t.Error("a device was replaced by a file")
	}
}

func TestWhatAKilledRunLeftBesideThePageIsSweptAway(t *testing.T) {
	dir := t.TempDir()
	lesson := captions(t, dir)
	old := time.Now().Add(-2 * time.Hour)
	for name, then := range map[string]time.Time{
		".lesson.debrief.html1234567890": old,        // ours, long dead
		".lesson.debrief.html9876543210": time.Now(), // perhaps still being written
		".lesson.debrief.html.swp":       old,        // an editor's
		".lesson.debrief.html12":         old,        // who knows
	} {
		if err := os.Chtimes(put(t, filepath.Join(dir, name), nil), then, then); err != nil {
			t.Fatal(err)
		}
	}
	if code, _, stderr := sidetone(t, "debrief", lesson); code != exitDone {
		t.Fatalf("exit status %d: %s", code, stderr)
	}
	if got, want := files(t, dir), ".lesson.debrief.html.swp .lesson.debrief.html12 .lesson.debrief.html9876543210 lesson.debrief.html lesson.vtt"; got != want {
		t.Errorf("left: %s\nwant: %s", got, want)
	}
}

func TestThePageOfARecordingThatIsGoneHasNoSoundButIsThere(t *testing.T) {
	set := modelstest.Find(t)
	dir, lesson := lessonIn(t, 12)
	words := t.TempDir()
	cmd, stderr := program(t, words, "debrief", lesson, "--models", set.Dir, "--threads", "1")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	waitFor(t, "the first words", func() bool { return piecesIn(t, words) >= 1 })
	if err := os.Remove(lesson); err != nil { // the card is pulled
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Fatalf("%v: %s", err, stderr)
	}
	if page := read(t, filepath.Join(dir, "lesson.debrief.html")); !strings.Contains(page, "The page is without sound") || strings.Contains(page, "data:audio") {
		t.Error("the page does not say that it is without sound")
	}
}

// The listening files are other people's programs. They must neither call home
// nor leave files about.
func TestNothingIsSentAndNothingIsLeftElsewhere(t *testing.T) {
	set := modelstest.Find(t)
	if out, err := exec.Command("strace", "-f", "-o", "/dev/null", "true").CombinedOutput(); errors.Is(err, exec.ErrNotFound) {
		modelstest.Missing(t, "strace")
	} else if err != nil {
		t.Skipf("processes cannot be watched here: %s", out)
	}
	dir, lesson := lessonIn(t, 12)
	home, temp, trace := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "trace")
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("strace", "-f", "-o", trace, "-e", "trace=network", exe, "debrief", lesson, "--models", set.Dir)
	cmd.Env = append(os.Environ(), asProgram+"=1", kept.EnvDir+"="+filepath.Join(home, "words"), "HOME="+home, "TMPDIR="+temp, "XDG_CACHE_HOME=")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for line := range strings.Lines(read(t, trace)) {
		// ffmpeg opens nothing either; sockets within the machine are no network.
		if strings.Contains(line, "AF_INET") || strings.Contains(line, "connect(") && !strings.Contains(line, "AF_UNIX") {
			t.Errorf("the network is used: %s", line)
		}
	}
	if got := files(t, dir) + "; " + files(t, home) + "; " + files(t, temp); got != "lesson.debrief.html lesson.wav; words; " {
		t.Errorf("left: %s", got)
	}
}
