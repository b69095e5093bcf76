package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"github.com/goccy/go-yaml"

	"sidetone/audio/recognise/remote"
)

// envConfig names the environment variable that names another config file.
const envConfig = "SIDETONE_CONFIG"

// config is what the user's config file says; every part of it may be missing.
type config struct {
	Recogniser  string       `yaml:"recogniser"`
	SendAudioTo string       `yaml:"send-audio-to"`
	Remote      remoteConfig `yaml:"remote"`
	Lend        lendConfig   `yaml:"lend"`

	path string
}

type remoteConfig struct {
	Endpoint    string `yaml:"endpoint"`
	Model       string `yaml:"model"`
	Key         string `yaml:"key"`
	UploadMB    int    `yaml:"upload-limit-mb"`
	UploadsOnce int    `yaml:"uploads-at-once"`
}

type lendConfig struct {
	Token string `yaml:"token"`
}

// configPath is where the config file is: sidetone/config.yaml in the user's config
// folder, unless SIDETONE_CONFIG names another.
func configPath() (string, error) {
	if e := os.Getenv(envConfig); e != "" {
		return e, nil
	}
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, "sidetone", "config.yaml"), nil
}

// readConfig reads the config file; it is empty when there is none. One that holds a
// secret must be for the user's eyes only.
func readConfig() (*config, error) {
	path, err := configPath()
	if err != nil {
		return &config{}, nil // a user without a config folder
	}
	c := &config{path: path}
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return c, nil
	}
	if err != nil {
		return nil, explain(path, err)
	}
	if err := yaml.UnmarshalWithOptions(b, c, yaml.Strict()); err != nil {
		var at yaml.Error
		if errors.As(err, &at) && at.GetToken() != nil { // never the line itself: it may hold the key
			return nil, fmt.Errorf("%s:%d: %s", path, at.GetToken().Position.Line, at.GetMessage())
		}
		return nil, fmt.Errorf("%s: it is no YAML that can be read", path)
	}
	if st, err := os.Stat(path); err == nil && c.Remote.Key+c.Lend.Token != "" && st.Mode().Perm()&0o077 != 0 && runtime.GOOS != "windows" {
		return nil, fmt.Errorf("%s holds a secret, and others on this machine can read it: chmod 600 %s", path, path)
	}
	return c, nil
}

// remoteByDefault tells whether the config file makes a remote recogniser the usual
// one. It must say so twice: nobody's voice leaves the machine by a slip.
func (c *config) remoteByDefault() (bool, error) {
	switch c.Recogniser {
	case "", "embedded":
		return false, nil
	case "remote":
	default:
		return false, fmt.Errorf("%s: recogniser %q is neither embedded nor remote", c.path, c.Recogniser)
	}
	at, err := remote.Endpoint(c.Remote.Endpoint)
	if err != nil {
		return false, fmt.Errorf("%s: recogniser: remote needs the endpoint of one: %w", c.path, err)
	}
	if c.SendAudioTo != at.Host {
		return false, fmt.Errorf("%s: recogniser: remote would send the speech of every lesson to %s. If you mean that, write \"send-audio-to: %s\" beside it; if not, take it out, and name --recogniser remote when you want it", c.path, at.Host, at.Host)
	}
	return true, nil
}
