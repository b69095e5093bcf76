// Package ort keeps ONNX Runtime: one environment for the process, opened with
// the first session and closed with the last.
package ort

import (
	"fmt"
	"os"
	"sync"

	onnx "github.com/yalue/onnxruntime_go"

	"sidetone/audio/ort/modelfile"
)

var (
	mu    sync.Mutex
	users int
)

// acquire opens the environment from the shared library at path, or counts one
// more user of it. A process has one: the first library named is the one used.
func acquire(library string) error {
	mu.Lock()
	defer mu.Unlock()
	if users == 0 {
		if err := quiet(); err != nil {
			return err
		}
		onnx.SetSharedLibraryPath(library)
		if err := onnx.InitializeEnvironment(onnx.WithLogLevelError()); err != nil {
			return fmt.Errorf("ONNX Runtime does not start from %s: %w", library, err)
		}
	}
	users++
	return nil
}

// quiet keeps ONNX Runtime to itself. The builds that are published collect what
// models are loaded, keep it in a database in the user's cache folder and send it
// to their maker, unless this variable of the process says not to (it is looked
// for in the library's strings; nothing documents it, so a test watches).
func quiet() error { return os.Setenv("ORT_DISABLE_TELEMETRY", "1") }

func release() error {
	mu.Lock()
	defer mu.Unlock()
	users--
	if users == 0 {
		return onnx.DestroyEnvironment()
	}
	return nil
}

// Session is one model, ready to run, by several goroutines at once if they like.
type Session struct {
	*onnx.DynamicAdvancedSession
	Inputs, Outputs []modelfile.Port
	path            string
	closed          bool
}

// Open loads the model file. threads is the number of cores one run may use,
// at least 1. Close must be called.
func Open(library, model string, threads int) (*Session, error) {
	data, err := os.ReadFile(model)
	if err != nil {
		return nil, fmt.Errorf("model: %w", err)
	}
	return OpenData(library, model, data, threads)
}

// OpenData is Open for a model that was read already; errors call it model.
func OpenData(library, model string, data []byte, threads int) (*Session, error) {
	if err := acquire(library); err != nil {
		return nil, err
	}
	s, err := open(model, data, max(threads, 1))
	if err != nil {
		_ = release()
		return nil, fmt.Errorf("model %s: %w", model, err)
	}
	return s, nil
}

func open(model string, data []byte, threads int) (*Session, error) {
	opt, err := onnx.NewSessionOptions()
	if err != nil {
		return nil, err
	}
	defer opt.Destroy()
	if err := opt.SetIntraOpNumThreads(threads); err != nil {
		return nil, err
	}
	if err := opt.SetInterOpNumThreads(1); err != nil {
		return nil, err
	}
	// Runs are short and follow each other closely: spinning threads would burn
	// a core while the next segment is being read.
	if err := opt.AddSessionConfigEntry("session.intra_op.allow_spinning", "0"); err != nil {
		return nil, err
	}
	// Every segment has another length: memory kept for reuse is never the right size,
	// and grows to twice what is needed.
	if err := opt.SetCpuMemArena(false); err != nil {
		return nil, err
	}
	if err := opt.SetMemPattern(false); err != nil {
		return nil, err
	}
	in, out, err := modelfile.Ports(data) // ONNX Runtime would load the whole model once more
	if err != nil {
		return nil, err
	}
	s, err := onnx.NewDynamicAdvancedSessionWithONNXData(data, names(in), names(out), opt)
	if err != nil {
		return nil, err
	}
	return &Session{DynamicAdvancedSession: s, Inputs: in, Outputs: out, path: model}, nil
}

func names(infos []modelfile.Port) []string {
	n := make([]string, len(infos))
	for i := range infos {
		n[i] = infos[i].Name
	}
	return n
}

// Run runs the model. Outputs left nil are allocated and must be destroyed.
func (s *Session) Run(in, out []onnx.Value) error {
	if s.closed {
		return fmt.Errorf("model %s: used after it was closed", s.path)
	}
	if err := s.DynamicAdvancedSession.Run(in, out); err != nil {
		return fmt.Errorf("model %s: %w", s.path, err)
	}
	return nil
}

// Close frees the model, and the runtime when it was the last one. It may be
// called twice.
func (s *Session) Close() error {
	if s == nil || s.closed {
		return nil
	}
	s.closed = true
	err := s.Destroy()
	if e := release(); err == nil {
		err = e
	}
	return err
}

// Destroy frees the values that are not nil.
func Destroy(values ...onnx.Value) {
	for _, v := range values {
		if v != nil {
			_ = v.Destroy()
		}
	}
}
