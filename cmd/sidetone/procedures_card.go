package main

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/mattn/go-runewidth"

	"sidetone/callouts"
	"sidetone/rules"
)

// cardWidth is how wide a card may be, in columns.
const cardWidth = 80

// card is a page of text under way.
type card struct {
	strings.Builder
	lexicon *callouts.Lexicon
	plan    *rules.Plan
	own     map[string][]string // phrases the procedure brings along
}

// procedureCard is a procedure as a student would study it.
func procedureCard(plan *rules.Plan, lexicon *callouts.Lexicon) string {
	p := plan.Procedure
	c := &card{plan: plan, lexicon: lexicon, own: map[string][]string{}}
	for _, o := range p.Phrases() {
		c.own[o.ID] = o.Say
	}
	c.text(0, strings.ToUpper(p.Title))
	c.text(0, p.Summary)
	c.text(0, "Aircraft: "+plan.Aircraft.Title)
	var names []string
	for _, n := range p.SpokenNames() {
		names = append(names, fmt.Sprintf("%q", plainly(n, "")))
	}
	c.text(0, "Named aloud: "+strings.Join(names, ", "))
	number := 0
	for _, ph := range p.Phases {
		title := ph.Title
		if ph.Cue != "" {
			title += fmt.Sprintf(", on the cue %q", strings.ReplaceAll(ph.Cue, "-", " "))
		}
		c.heading(title)
		group := 0
		for _, s := range ph.Steps {
			if !plan.Applies(s.ID) {
				continue
			}
			mark := "or"
			if s.Group == 0 || s.Group != group {
				number++
				mark = strconv.Itoa(number)
			}
			group = s.Group
			c.step(mark, s)
		}
	}
	holds := slices.DeleteFunc(slices.Clone(p.Holds), func(h *rules.Hold) bool { return !plan.Applies(h.ID) })
	if len(holds) > 0 {
		c.heading("Held throughout")
	}
	for _, h := range holds {
		c.text(4, h.Title+stretch(p, h.From, h.Until))
		c.teach(h.Teach)
		c.reference(h.Reference)
	}
	nevers := slices.DeleteFunc(slices.Clone(p.Nevers), func(n *rules.Never) bool { return !plan.Applies(n.ID) })
	if len(nevers) > 0 {
		c.heading("Never")
	}
	for _, n := range nevers {
		c.text(4, n.Title+stretch(p, n.From, n.Until))
		c.teach(n.Teach)
		c.reference(n.Reference)
	}
	c.WriteByte('\n')
	c.text(0, "VERIFY: POH. Figures and steps marked so are those of this aircraft file; the aircraft's own POH/AFM decides. A training aid for use on the ground.")
	return c.String()
}

func (c *card) step(mark string, s *rules.Step) {
	value := c.value(s)
	left := fmt.Sprintf("%3s %s", mark, s.Title)
	say := fmt.Sprintf("%q", c.phrase(s))
	line := runewidth.FillRight(left, 30) + " " + say
	if value != "" {
		line = runewidth.FillRight(line, cardWidth-runewidth.StringWidth(value)-1) + " " + value
	}
	if runewidth.StringWidth(left) > 30 || runewidth.StringWidth(line) > cardWidth {
		c.text(4, strings.TrimSpace(left[3:]), mark)
		c.text(6, strings.TrimSpace(say+"  "+value))
	} else {
		c.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	c.text(6, strings.Join(c.conditions(s), "; "))
	c.teach(s.Teach)
	c.text(6, c.plan.Verify(s.ID))
	c.reference(s.Reference)
}

// conditions are what else there is to know of a step.
func (c *card) conditions(s *rules.Step) []string {
	var out []string
	if s.By != "" {
		out = append(out, "said by the "+string(s.By))
	}
	if s.Optional {
		out = append(out, "not required")
	}
	if s.Anytime {
		out = append(out, "at any time")
	}
	if s.Value != nil && s.Value.AsCalledAt != "" {
		out = append(out, "the figure called at "+lower(title(c.plan.Procedure, s.Value.AsCalledAt)))
	}
	if w := s.Within; w != nil {
		of := "the cue " + strconv.Quote(strings.ReplaceAll(w.Cue, "-", " "))
		if w.Of != "" {
			of = lower(title(c.plan.Procedure, w.Of))
		}
		out = append(out, fmt.Sprintf("within %s s of %s", short(w.Seconds), of))
	}
	if w := s.NotBefore; w != nil {
		out = append(out, fmt.Sprintf("no sooner than %s s after %s", short(w.Seconds), lower(title(c.plan.Procedure, w.Of))))
	}
	if !s.Anytime && s.After != nil {
		if len(s.After) > 0 {
			var names []string
			for _, id := range s.After {
				if c.plan.Applies(id) {
					names = append(names, lower(title(c.plan.Procedure, id)))
				}
			}
			if len(names) > 0 {
				out = append(out, "after "+strings.Join(names, " and "))
			}
		}
	}
	return out
}

// phrase is what to say for a step: a phrase of the school's own first.
func (c *card) phrase(s *rules.Step) string {
	id := s.Calls[0]
	phrases := c.own[id]
	if i := slices.IndexFunc(c.lexicon.Callouts, func(o callouts.Callout) bool { return o.ID == id }); i >= 0 {
		o := c.lexicon.Callouts[i]
		phrases = slices.Concat(phrases, o.Say, o.Alone, o.Order)
	}
	if len(phrases) == 0 {
		return strings.ReplaceAll(id, "-", " ")
	}
	figure := "..."
	if t, _, _, ok := c.plan.Target(s.ID); ok {
		figure = short(t)
		if s.Value.Of == callouts.Heading {
			figure = fmt.Sprintf("%03.0f", t)
		}
	}
	return plainly(phrases[0], figure)
}

var slot = regexp.MustCompile(`\{[a-z]+\}`)

// plainly is the shortest way to say a phrase of the lexicon.
func plainly(phrase, figure string) string {
	for {
		open := strings.LastIndexByte(phrase, '[')
		if open < 0 {
			break
		}
		end := strings.IndexByte(phrase[open:], ']')
		if end < 0 {
			break
		}
		phrase = phrase[:open] + " " + phrase[open+end+1:]
	}
	words := strings.Fields(phrase)
	for i, w := range words {
		words[i], _, _ = strings.Cut(w, "/")
	}
	return slot.ReplaceAllLiteralString(strings.Join(words, " "), figure)
}

// value is the figure of a step with its limits.
func (c *card) value(s *rules.Step) string {
	if s.Value == nil {
		return ""
	}
	unit := s.Value.Of.Unit()
	if unit == "deg" {
		unit = "°"
	} else if unit != "" {
		unit = " " + unit
	}
	limits := ""
	switch v := s.Value; {
	case v.Plus == v.Minus && v.Plus > 0:
		limits = " ±" + short(v.Plus)
	case v.Plus != v.Minus:
		limits = fmt.Sprintf(" +%s/-%s", short(v.Plus), short(v.Minus))
	}
	t, _, _, ok := c.plan.Target(s.ID)
	if !ok {
		if s.Value.AsCalledAt != "" {
			return "as called" + limits + unit
		}
		return ""
	}
	n := short(t)
	switch {
	case s.Value.Of == callouts.Heading:
		n = fmt.Sprintf("%03.0f", t)
	case t >= 1000 && len(n) == 4:
		n = n[:1] + "," + n[1:]
	}
	return n + limits + unit
}

func short(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// stretch says between what something holds.
func stretch(p *rules.Procedure, from, until rules.Bound) string {
	say := func(b rules.Bound) string {
		if b.Cue != "" {
			return strconv.Quote(strings.ReplaceAll(b.Cue, "-", " "))
		}
		return lower(title(p, b.Step))
	}
	out := ""
	if from != (rules.Bound{}) {
		out += ", from " + say(from)
	}
	if until != (rules.Bound{}) {
		out += ", until " + say(until)
	}
	return out
}

func title(p *rules.Procedure, id string) string {
	for _, s := range p.Steps() {
		if s.ID == id {
			return s.Title
		}
	}
	return id
}

func lower(s string) string {
	if len(s) > 1 && s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:min(1, len(s))]) + s[min(1, len(s)):]
}

func (c *card) heading(text string) {
	c.WriteString("\n")
	c.text(0, text)
	c.WriteString(strings.Repeat("-", min(cardWidth, runewidth.StringWidth(text))) + "\n")
}

func (c *card) teach(text string) { c.text(6, text) }

func (c *card) reference(text string) { c.text(6, "["+text+"]") }

// text writes words in lines that begin so many columns in, the first of them
// perhaps behind a mark.
func (c *card) text(indent int, text string, mark ...string) {
	if strings.TrimSpace(text) == "" {
		return
	}
	lead := strings.Repeat(" ", indent)
	if len(mark) > 0 {
		lead = fmt.Sprintf("%3s ", mark[0])
	}
	for _, line := range wrapped(text, cardWidth-indent) {
		c.WriteString(lead + line + "\n")
		lead = strings.Repeat(" ", indent)
	}
}

// wrapped breaks text at blanks into lines of at most width columns, words
// longer than that excepted.
func wrapped(text string, width int) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && runewidth.StringWidth(line)+1+runewidth.StringWidth(word) > width {
			lines = append(lines, line)
			line = ""
		}
		line = strings.TrimSpace(line + " " + word)
	}
	return append(lines, line)
}

// aircraftCard lists the facts of an aircraft.
func aircraftCard(ac *rules.Aircraft) string {
	c := &card{}
	c.text(0, strings.ToUpper(ac.Title))
	c.WriteByte('\n')
	for _, name := range ac.FactNames() {
		c.WriteString("    " + runewidth.FillRight(strings.ReplaceAll(name, "_", " "), 34) + " " + ac.Facts[name].String() + "\n")
	}
	c.WriteByte('\n')
	c.text(0, "VERIFY: POH. The aircraft's own POH/AFM decides. A training aid for use on the ground.")
	return c.String()
}
