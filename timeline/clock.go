package timeline

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Clock is a time of day, as far as it is known: with its date or without, in a
// known zone or by a clock of which the zone is not known. Its text is that of
// RFC 3339, less what is not known: 2026-05-01T14:32:05Z, 2026-05-01T14:32:05,
// 14:32:05Z, 14:32:05.
type Clock struct {
	Time        time.Time
	Date, Zone  bool
	Thousandths bool // the time is good to a thousandth of a second
}

// clockForms are what ParseClock reads; a fraction may follow the seconds.
var clockForms = []struct {
	layout     string
	date, zone bool
}{
	{"2006-01-02T15:04:05Z07:00", true, true},
	{"2006-01-02T15:04:05", true, false},
	{"2006-01-02T15:04Z07:00", true, true},
	{"2006-01-02T15:04", true, false},
	{"15:04:05Z07:00", false, true},
	{"15:04:05", false, false},
	{"15:04Z07:00", false, true},
	{"15:04", false, false},
}

// ParseClock reads a time of day: 14:32:05Z (UTC), 14:32:05+02:00, 14:32:05 (no
// zone), any of them without seconds or with a fraction of them, or after a date
// and a T.
func ParseClock(s string) (*Clock, error) {
	text := strings.ToUpper(strings.TrimSpace(s))
	if d, t, ok := strings.Cut(text, " "); ok {
		text = d + "T" + t
	}
	for _, f := range clockForms {
		if t, err := time.Parse(f.layout, text); err == nil {
			return &Clock{Time: t, Date: f.date, Zone: f.zone, Thousandths: strings.Contains(text, ".")}, nil
		}
	}
	return nil, fmt.Errorf("%q is no time of day: write 14:32:05Z, 14:32:05+02:00 or 14:32:05, with or without a date before it (2026-05-01T14:32:05Z)", s)
}

// After is the time of day so many seconds later.
func (c Clock) After(seconds float64) *Clock {
	c.Time = c.Time.Add(time.Duration(math.Round(seconds * float64(time.Second))))
	return &c
}

// String is the whole of what is known, as ParseClock reads it.
func (c Clock) String() string { return c.format(c.Date, c.Thousandths) }

// Day is the time of day alone, to the second: "14:32:05Z".
func (c Clock) Day() string { return c.format(false, false) }

func (c Clock) format(date, thousandths bool) string {
	layout := "15:04:05"
	if date {
		layout = "2006-01-02T" + layout
	}
	if thousandths {
		layout += ".000"
	}
	if c.Zone {
		layout += "Z07:00"
	}
	return c.Time.Round(time.Millisecond).Format(layout) // sums of seconds may fall short by a hair
}

// MarshalText makes a clock its text in JSON.
func (c Clock) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads it back.
func (c *Clock) UnmarshalText(b []byte) error {
	p, err := ParseClock(string(b))
	if err != nil {
		return err
	}
	*c = *p
	return nil
}
