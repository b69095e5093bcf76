package ort_test

import (
	"path/filepath"
	"strings"
	"sync"
	"testing"

	onnxruntime "github.com/yalue/onnxruntime_go"

	"sidetone/audio/models/modelstest"
	"sidetone/audio/ort"
)

func open(t *testing.T) *ort.Session {
	t.Helper()
	set := modelstest.Find(t)
	s, err := ort.Open(set.Runtime, set.VAD, 1)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// detect runs the speech detector's model on silence.
func detect(s *ort.Session) (err error) {
	in, err := onnxruntime.NewEmptyTensor[float32](onnxruntime.NewShape(1, 576))
	if err != nil {
		return err
	}
	defer in.Destroy()
	state, err := onnxruntime.NewEmptyTensor[float32](onnxruntime.NewShape(2, 1, 128))
	if err != nil {
		return err
	}
	defer state.Destroy()
	rate, err := onnxruntime.NewScalar[int64](16000)
	if err != nil {
		return err
	}
	defer rate.Destroy()
	out := make([]onnxruntime.Value, 2)
	err = s.Run([]onnxruntime.Value{in, state, rate}, out)
	ort.Destroy(out...)
	return err
}

func TestASessionRunsUntilItIsClosedAndThenGivesAnError(t *testing.T) {
	s, other := open(t), open(t)
	if err := detect(s); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := detect(s); err == nil || !strings.Contains(err.Error(), "after it was closed") {
		t.Errorf("a closed session gives %v", err)
	}
	if err := detect(other); err != nil {
		t.Errorf("closing one session twice took the runtime from another: %v", err)
	}
}

func TestTheRuntimeStartsAgainAfterTheLastSessionIsClosed(t *testing.T) {
	for range 3 {
		s := open(t)
		if err := detect(s); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if onnxruntime.IsInitialized() {
			t.Fatal("the runtime is still there")
		}
	}
}

func TestWhatCannotBeOpenedIsNamedAndLeavesNothingBehind(t *testing.T) {
	set := modelstest.Find(t)
	for _, c := range []struct{ name, library, model, want string }{
		{"no library", filepath.Join(t.TempDir(), "none.so"), set.VAD, "none.so"},
		{"a library that is none", set.Vocabulary, set.VAD, filepath.Base(set.Vocabulary)},
		{"no model", set.Runtime, "none.onnx", "none.onnx"},
		{"a model that is none", set.Runtime, set.Vocabulary, filepath.Base(set.Vocabulary)},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := ort.Open(c.library, c.model, 1)
			if err == nil {
				_ = s.Close()
				t.Fatal("it is opened")
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q does not name %s", err, c.want)
			}
			if onnxruntime.IsInitialized() {
				t.Error("the runtime is left behind")
			}
		})
	}
}

func TestASessionIsRunByManyAtOnce(t *testing.T) {
	s := open(t)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 20 {
				if err := detect(s); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
}

func TestNoSessionIsClosedLikeOne(t *testing.T) {
	var s *ort.Session
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	ort.Destroy(nil, nil)
}
