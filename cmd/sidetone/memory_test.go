package main

import (
	"bufio"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/models/modelstest"
)

// mostMemory is what a lesson of any length may take, in MB resident.
const mostMemory = 400

// Three hours of 48 kHz stereo, a seat on each side: the demo lesson over and
// over, a seat of it at a time. It takes minutes and 2 GB of disk, so it is only
// run when asked for: make memory.
func TestThreeHoursOfStereoFitInMemory(t *testing.T) {
	if os.Getenv("SIDETONE_LONG") == "" {
		t.Skip("takes minutes: SIDETONE_LONG=1, or make memory")
	}
	set := modelstest.Find(t)
	audiotest.Need(t, "sox", "ffmpeg")
	dir := t.TempDir()
	once := filepath.Join(dir, "once.wav")
	audiotest.Run(t, "sox", "-D", demoFile("lesson.wav"), "-r", "48000", once)
	demo, err := audio.Load(t.Context(), once)
	if err != nil {
		t.Fatal(err)
	}
	seconds := demo.Duration()
	rounds := int(3*3600/seconds) + 1
	lesson := stereoLesson(t, dir, once, rounds)

	cmd, stderr := program(t, t.TempDir(), "debrief", lesson, "--models", set.Dir, "--left", "student", "--right", "instructor")
	began := time.Now()
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %s", err, stderr)
	}
	used := cmd.ProcessState.SysUsage().(*syscall.Rusage)
	most := used.Maxrss >> 10 // Linux counts KB
	t.Logf("%.2f h took %v, %d MB resident at most; %s", float64(rounds)*seconds/3600, time.Since(began).Round(time.Second), most, stderr)
	if most > mostMemory {
		t.Errorf("%d MB resident, at most %d are allowed", most, mostMemory)
	}
	if st, err := os.Stat(filepath.Join(dir, "lesson.debrief.html")); err != nil || st.Size() > 80<<20 {
		t.Errorf("the page: %v, %v", st, err)
	}
}

// stereoLesson writes rounds of a mono WAV file, odd ones on the left, even ones
// on the right, each round a little louder than the one before so that no segment
// is the same as another.
func stereoLesson(t *testing.T, dir, once string, rounds int) string {
	t.Helper()
	b, err := os.ReadFile(once)
	if err != nil {
		t.Fatal(err)
	}
	mono := b[44:]
	path := filepath.Join(dir, "lesson.wav")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	// Sizes of 0xFFFFFFFF: as long as the file is.
	w.WriteString("RIFF\xff\xff\xff\xffWAVEfmt \x10\x00\x00\x00\x01\x00\x02\x00\x80\xbb\x00\x00\x00\xee\x02\x00\x04\x00\x10\x00data\xff\xff\xff\xff")
	var frame [4]byte
	for round := range rounds {
		gain := 0.5 + 0.5*float64(round)/float64(rounds)
		for i := 0; i+1 < len(mono); i += 2 {
			v := int16(gain * float64(int16(mono[i])|int16(mono[i+1])<<8))
			at := 2 * (round % 2)
			frame[0], frame[1], frame[2], frame[3] = 0, 0, 0, 0
			frame[at], frame[at+1] = byte(v), byte(v>>8)
			w.Write(frame[:])
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return path
}
