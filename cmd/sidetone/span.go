package main

import (
	"regexp"
	"strconv"
	"time"

	"github.com/spf13/pflag"

	"sidetone/rules"
	"sidetone/timeline"
)

// spanFlags narrow the recording to a stretch of it.
type spanFlags struct{ from, to string }

func (f *spanFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&f.from, "from", "", "judge only from this time of the recording on: 12:30, 1:02:03 or 90s")
	fl.StringVar(&f.to, "to", "", "judge only up to this time of the recording")
}

// given is what was asked for, before it is known how long the recording is: nil for
// all of it, To 0 for its end.
func (f spanFlags) given() (*timeline.Span, error) {
	if f.from == "" && f.to == "" {
		return nil, nil
	}
	s := &timeline.Span{}
	var err error
	if f.from != "" {
		if s.From, err = seconds("--from", f.from); err != nil {
			return nil, err
		}
	}
	if f.to != "" {
		if s.To, err = seconds("--to", f.to); err != nil {
			return nil, err
		}
		if s.To <= s.From {
			return nil, usageErrorf("--to %s is not after --from %s", f.to, rules.Clock(s.From))
		}
	}
	return s, nil
}

// within is the stretch of a recording of so many seconds, nil for all of it.
func (f spanFlags) within(duration float64) (*timeline.Span, error) {
	s, err := f.given()
	if s == nil || err != nil {
		return nil, err
	}
	if s.From >= duration {
		return nil, usageErrorf("--from %s: the recording is only %s long", f.from, rules.Clock(duration))
	}
	if s.To == 0 || s.To > duration {
		s.To = duration
	}
	return s, nil
}

var clockForm = regexp.MustCompile(`^(?:(\d{1,3}):([0-5]\d)|(\d{1,4})):([0-5]\d(?:\.\d+)?)$`)

// seconds reads a time of the recording: m:ss, h:mm:ss, or with units as in 90s.
func seconds(flag, s string) (float64, error) {
	if m := clockForm.FindStringSubmatch(s); m != nil {
		number := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
		return 3600*number(m[1]) + 60*number(m[2]+m[3]) + number(m[4]), nil
	}
	if d, err := time.ParseDuration(s); err == nil && d >= 0 && s != "0" {
		return d.Seconds(), nil
	}
	return 0, usageErrorf("%s %q is no time of the recording: write minutes and seconds as 12:30, hours as 1:02:03, or seconds as 90s", flag, s)
}
