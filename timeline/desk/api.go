// Package desk serves the page at which a student and an instructor sit down
// together: the library of lessons, each lesson with what the tool heard and what
// people say of it, live.
//
// This file is the agreement between the server and the page. The pages are
//
//	GET  /                        the library (library.tmpl.html)
//	GET  /lessons/{id}            a lesson (lesson.tmpl.html)
//	GET  /lessons/{id}/print      a page for each maneuver (print.tmpl.html)
//	GET  /assets/...              the bundled scripts and styles
//
// and what they fetch
//
//	GET  /lessons/{id}/state      State
//	GET  /lessons/{id}/peaks      Peaks
//	GET  /lessons/{id}/sound      the recording, with range requests
//	POST /lessons/{id}/recording  multipart upload of the lesson's own recording (parts
//	                              "recording"), which was lost -> State
//	POST /lessons/{id}/facts      Fact -> 201 and the new State
//	GET  /lessons/{id}/removal    Removal, for the question before
//	POST /lessons/{id}/remove     takes the lesson out of the library -> 200
//	POST /lessons                 multipart upload (parts "recording", and as wished
//	                              "student", "instructor", "aircraft", "date",
//	                              "title"), or NewLesson as JSON -> 201 Created
//	POST /lessons/import          what export.json gave -> 201 Created
//	GET  /lessons/{id}/export.{html,json,vtt,csv}
//	                              export.vtt?chapters=1 gives the maneuvers instead
//	                              of the words, export.csv?calls=1 the calls
//	                              instead of the steps
//	GET  /lessons                 []Listed, what the library page shows
//	GET  /events                  server-sent events: "lesson" LessonEvent,
//	                              "progress" ProgressEvent, "removed" LessonEvent,
//	                              "library" {}
//
// Every POST carries the page's <meta name="sidetone-token"> in the header
// X-Sidetone-Token. What was refused is answered with 4xx and Trouble. Times are
// seconds from the start of the recording; moments of writing are RFC 3339 in UTC.
//
// A maneuver is named "PROCEDURE/N": the Nth attempt at that procedure in the
// timeline, from 1. Attempts come and go when words are corrected, so the server
// keeps, with every fact, when the attempt meant began; a fact belongs to the
// attempt at its procedure that began nearest to then, at most NearestAttempt
// seconds away. State always names attempts as they are counted in its own timeline.
// One that is nearest to none is named "PROCEDURE/0" and still listed.
package desk

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"sidetone/rules"
	"sidetone/timeline/logbook"
)

// State is a lesson as it stands: what was heard, what people say of it, and what
// comes of both.
type State struct {
	ID         string   `json:"id"`
	Title      string   `json:"title"`
	Date       string   `json:"date"` // flown, YYYY-MM-DD, "" when unknown
	Student    string   `json:"student"`
	Instructor string   `json:"instructor"`
	Aircraft   string   `json:"aircraft"`
	Aircrafts  []string `json:"aircrafts"` // it may have been flown in
	Duration   float64  `json:"duration"`
	Revision   int      `json:"revision"` // the number of facts
	Sound      string   `json:"sound"`    // "" when the recording is not found
	Peaks      string   `json:"peaks"`    // "" when there are none

	Words []Word `json:"words"`
	// Timeline is the debrief in the form of timeline/report (debrief.schema.json)
	// as it counts: judged with people's corrected words and added calls, and with their
	// verdicts in place of the machine's (each tells what that was); null until the
	// lesson is heard.
	Timeline json.RawMessage `json:"timeline"`
	// Machine is the debrief as the machine alone said it, left out when it is the
	// same.
	Machine json.RawMessage `json:"machine,omitempty"`

	Hands    []Hand    `json:"hands"` // undone and replaced ones left out
	Notes    []Note    `json:"notes"`
	WorkOn   []WorkOn  `json:"workOn"`
	Added    []Added   `json:"added"`
	History  []Change  `json:"history"` // in the order written
	Callouts []Callout `json:"callouts"`
	// Asked is what answers the steps of the procedures that were flown, by procedure.
	Asked map[string][]Asked `json:"asked"`

	Progress *Progress `json:"progress,omitempty"` // while the lesson is heard
	// Missing is the recording when it is not found; left out when it is.
	Missing *Missing `json:"missing,omitempty"`
	// Remarks are sentences about the recording: channels, quality.
	Remarks []string `json:"remarks"`
	// Trouble is why the lesson could not be heard, "" when it could.
	Trouble string `json:"trouble,omitempty"`
}

// Missing is a file of a recording that is not found. LastSeen is where it lay, "" when
// it never was on this machine.
type Missing struct {
	Name     string `json:"name"`
	LastSeen string `json:"lastSeen"`
}

// Word is one spoken word. N is its index among the words the machine heard and
// stays its name. A corrected word may hold several, or none ("").
type Word struct {
	N          int     `json:"n"`
	Text       string  `json:"text"`
	Start      float64 `json:"start"`
	End        float64 `json:"end"`
	Confidence float64 `json:"confidence"`
	Channel    int     `json:"channel"`
	Speaker    string  `json:"speaker"`
	Was        *string `json:"was,omitempty"` // before it was corrected
	By         string  `json:"by,omitempty"`
}

// Hand is what a person says of the verdict on a step: "accept", "overrule" (with
// a verdict of their own and the reason) or "listen-again". Which of several counts,
// logbook.Settle says: the instructor's, else the last.
type Hand struct {
	Fact     FactNumber `json:"fact"`
	Maneuver string     `json:"maneuver"`
	Step     string     `json:"step"`
	Hand     string     `json:"hand"`
	Verdict  string     `json:"verdict,omitempty"`
	Reason   string     `json:"reason,omitempty"`
	Author   string     `json:"author"`
	At       string     `json:"at"` // when it was written
}

// Note is a person's note at a second of the recording, or on a step.
type Note struct {
	Fact     FactNumber `json:"fact"`
	At       *float64   `json:"at,omitempty"`
	Maneuver string     `json:"maneuver,omitempty"`
	Step     string     `json:"step,omitempty"`
	Text     string     `json:"text"`
	Author   string     `json:"author"`
	Written  string     `json:"written"`
}

// WorkOn is something to work on next. A work-on fact with Work replaces an item, so
// that is how one is marked done; the item keeps its number.
type WorkOn struct {
	Fact     FactNumber `json:"fact"`
	Text     string     `json:"text"`
	Maneuver string     `json:"maneuver,omitempty"`
	Step     string     `json:"step,omitempty"`
	Author   string     `json:"author"`
	Done     bool       `json:"done,omitempty"`
}

// Added is a call a person heard and the tool did not.
type Added struct {
	Fact    FactNumber `json:"fact"`
	Callout string     `json:"callout"`
	Value   *float64   `json:"value,omitempty"`
	Unit    string     `json:"unit,omitempty"`
	At      float64    `json:"at"`
	Speaker string     `json:"speaker,omitempty"`
	Author  string     `json:"author"`
}

// Change is a fact for the history: Summary is one plain sentence, Short what was done
// in a few words: "Overruled Trim set".
type Change struct {
	Fact    FactNumber `json:"fact"`
	Kind    string     `json:"kind"`
	Author  string     `json:"author"`
	Written string     `json:"written"`
	Summary string     `json:"summary"`
	Short   string     `json:"short"`
	Undone  bool       `json:"undone"`
}

// Callout is one that may be added by hand; Unit is that of its figure, "" when it
// has none.
type Callout struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	Unit  string `json:"unit,omitempty"`
}

// Asked names the callouts of a step, any of which answers it.
type Asked struct {
	Step     string   `json:"step"`
	Callouts []string `json:"callouts"`
}

// Progress is how far the hearing of a lesson is: Done of Of, in seconds of the
// recording; Of is 0 while that is unknown.
type Progress struct {
	Stage string  `json:"stage"`
	Done  float64 `json:"done"`
	Of    float64 `json:"of"`
}

// Fact is what a page sends to be appended. Key is made by the page (a UUID): sent
// twice, it is appended once. By Kind:
//
//	verdict  Maneuver, Step, Hand, and for "overrule" Verdict and Reason
//	call     Callout, At, and as known Value, Unit, Speaker
//	word     Word, Text ("" takes the word away)
//	note     Text, and At or Maneuver and Step
//	work-on  Text, and as wished Maneuver, Step, Done; Work when it replaces an item
//	cover    Cover, the lines of the cover that are put right
//	undo     Undo, the number of the fact; undoing an undo brings it back. With Last it
//	         is refused unless that is the last of Author's changes that stand
type Fact struct {
	Key      string         `json:"key"`
	Kind     string         `json:"kind"`
	Author   string         `json:"author"`
	Maneuver string         `json:"maneuver,omitempty"`
	Step     string         `json:"step,omitempty"`
	Hand     string         `json:"hand,omitempty"`
	Verdict  string         `json:"verdict,omitempty"`
	Reason   string         `json:"reason,omitempty"`
	Callout  string         `json:"callout,omitempty"`
	Value    *float64       `json:"value,omitempty"`
	Unit     string         `json:"unit,omitempty"`
	At       *float64       `json:"at,omitempty"`
	Speaker  string         `json:"speaker,omitempty"`
	Word     *int           `json:"word,omitempty"`
	Text     string         `json:"text,omitempty"`
	Done     bool           `json:"done,omitempty"`
	Cover    *logbook.Cover `json:"cover,omitempty"`
	Work     *FactNumber    `json:"work,omitempty"` // the number of the item
	Undo     *FactNumber    `json:"undo,omitempty"`
	Last     bool           `json:"last,omitempty"`
}

// FactNumber numbers the facts of a lesson from 1, in the order they were appended
// on this machine. It is written as a number; "12" is read too.
type FactNumber int

// UnmarshalJSON reads a number, or one in quotation marks.
func (n *FactNumber) UnmarshalJSON(b []byte) error {
	s := string(b)
	if len(s) > 1 && s[0] == '"' {
		s = s[1 : len(s)-1]
	}
	i, err := strconv.Atoi(s)
	if err != nil {
		return fmt.Errorf("%s is not the number of a fact", b)
	}
	*n = FactNumber(i)
	return nil
}

// Peaks is the waveform: the lowest and highest sample, -1 to 1, of each of
// PerSecond stretches a second.
type Peaks struct {
	PerSecond float64      `json:"perSecond"`
	Peaks     [][2]float32 `json:"peaks"`
}

// Listed is a lesson in the library.
type Listed struct {
	ID         string    `json:"id"`
	Title      string    `json:"title"`
	Date       string    `json:"date"`
	Added      string    `json:"added"`
	Student    string    `json:"student"`
	Instructor string    `json:"instructor"`
	Aircraft   string    `json:"aircraft"`
	Duration   float64   `json:"duration"`
	Maneuvers  []string  `json:"maneuvers"` // titles, in the order flown
	Result     string    `json:"result"`    // one line
	Revision   int       `json:"revision"`
	Progress   *Progress `json:"progress,omitempty"`
	Trouble    string    `json:"trouble,omitempty"`
	Missing    bool      `json:"missing,omitempty"` // its recording was looked for and not found
}

// LibraryPage is what library.tmpl.html is drawn from; LessonPage is what
// lesson.tmpl.html and print.tmpl.html are. Token goes into <meta
// name="sidetone-token">, Nonce into <meta name="sidetone-nonce"> and the nonce of
// any <style> or <script> in the page. Listed has its times ready for people.
type (
	LibraryPage struct {
		Token, Nonce, Version string
		Lessons               []Listed
	}
	LessonPage struct {
		Token, Nonce, Version string
		Lesson                Listed
	}
)

// Length is the duration for people, "1:02:03".
func (l Listed) Length() string { return rules.Clock(l.Duration) }

// ManeuverLine is the titles of the maneuvers in one line.
func (l Listed) ManeuverLine() string { return strings.Join(l.Maneuvers, ", ") }

// NewLesson asks for a recording of this machine to be added. Path must be one that
// was named on the command line.
type NewLesson struct {
	Path string `json:"path"`
}

// Created names a lesson that was added, or that is of the same recording and was here
// already.
type Created struct {
	ID    string `json:"id"`
	Known bool   `json:"known,omitempty"`
}

// Removal is what goes with a lesson and what stays, in sentences.
type Removal struct {
	Title string   `json:"title"`
	Goes  []string `json:"goes"`
	Stays []string `json:"stays"`
}

// Trouble says in one plain sentence what was refused and what to do.
type Trouble struct {
	Error string `json:"error"`
}

// NearestAttempt is how far apart, in seconds, the starts of an attempt before and
// after a change may be.
const NearestAttempt = logbook.Nearest

// LessonEvent tells that a lesson changed. With the revision that is known already it
// tells of something other than a fact: it was heard, or its sound is ready.
type LessonEvent struct {
	ID       string `json:"id"`
	Revision int    `json:"revision"`
}

// ProgressEvent tells how far the hearing of a lesson is.
type ProgressEvent struct {
	ID string `json:"id"`
	Progress
}
