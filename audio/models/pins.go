package models

import (
	"crypto/sha512"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"strings"
)

//go:embed package.json
var packageJSON []byte

// Pin is one npm package at one version, with the sha512 of its tarball as npm
// writes it ("sha512-" and base64).
type Pin struct {
	Name, Version, Integrity string
}

// Pins lists what is fetched, by name.
func Pins() ([]Pin, error) {
	var p struct {
		Dependencies map[string]string `json:"dependencies"`
		Integrity    map[string]string `json:"integrity"`
	}
	if err := json.Unmarshal(packageJSON, &p); err != nil {
		return nil, fmt.Errorf("audio/models/package.json: %w", err)
	}
	var pins []Pin
	for name, version := range p.Dependencies {
		if p.Integrity[name] == "" {
			return nil, fmt.Errorf("audio/models/package.json: %s has no integrity", name)
		}
		pins = append(pins, Pin{name, version, p.Integrity[name]})
	}
	slices.SortFunc(pins, func(a, b Pin) int { return strings.Compare(a.Name, b.Name) })
	return pins, nil
}

// Verify reads the tarball at path and says whether it is the pinned one.
func (p Pin) Verify(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	h := sha512.New()
	if _, err := io.Copy(h, f); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	got := "sha512-" + base64.StdEncoding.EncodeToString(h.Sum(nil))
	if got != p.Integrity {
		return fmt.Errorf("%s@%s is not the file that was pinned (its %s, expected %s); nothing of it is used", p.Name, p.Version, got, p.Integrity)
	}
	return nil
}

// wanted maps a file inside a package's tarball to its name in the models folder.
func wanted(pkg string) map[string]string {
	switch pkg {
	case "@ricky0123/vad-web":
		return map[string]string{"package/dist/silero_vad_v6.onnx": VAD}
	case "@usefulsensors/moonshine-js":
		return map[string]string{
			"package/dist/model/base/quantized/encoder_model.onnx":        Encoder,
			"package/dist/model/base/quantized/decoder_model_merged.onnx": Decoder,
			"package/package.json": "licences/moonshine.json", // names the licence, MIT
		}
	case "llama-tokenizer-js":
		return map[string]string{
			"package/llama-tokenizer.js": tokenizerSource,
			"package/LICENSE.md":         "licences/llama-tokenizer.txt",
		}
	case "onnxruntime-node":
		arch := map[string]string{"amd64": "x64", "arm64": "arm64"}[runtime.GOARCH]
		system := map[string]string{"linux": "linux", "darwin": "darwin", "windows": "win32"}[runtime.GOOS]
		return map[string]string{
			fmt.Sprintf("package/bin/napi-v6/%s/%s/%s", system, arch, RuntimeLibrary()): RuntimeLibrary(),
		}
	}
	return nil
}
