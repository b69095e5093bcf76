package rules

import (
	"maps"
	"reflect"
	"slices"
)

// base reads the procedure that is extended.
func (r *reader) base(source Source, id at[string]) (procedureFile, bool) {
	if source == nil {
		source = func(string) (string, []byte, error) { return "", nil, errNoSource }
	}
	file, text, err := source(id.v)
	if err != nil {
		r.fail(id.at, "extends %q: %v", id.v, err)
		return procedureFile{}, false
	}
	r.pos.base = file
	var in procedureFile
	if !r.decode(text, baseLines, &in, procedureGrammar) {
		return in, false
	}
	if in.Extends.set {
		r.fail(id.at, "extends %q: that extends another one itself; extend %q instead", id.v, in.Extends.v)
		return in, false
	}
	return in, true
}

// extend is the base changed as the other file says.
func (r *reader) extend(base, over procedureFile) procedureFile {
	if len(over.Phases) > 0 {
		r.fail(placeOfFirst(over.Phases), `the phases are those of %q; say what is different with "change", "add" and "remove"`, over.Extends.v)
	}
	out := base
	out.Extends = over.Extends
	overlay(&out.ID, over.ID)
	overlay(&out.Title, over.Title)
	overlay(&out.Names, over.Names)
	overlay(&out.Summary, over.Summary)
	overlay(&out.Aircraft, over.Aircraft)
	overlay(&out.Never, over.Never)
	m := merge{reader: r, procedureFile: &out}
	for _, c := range over.Change {
		m.change(c)
	}
	for _, a := range over.Add {
		m.add(a)
	}
	for _, id := range over.Remove.v {
		m.remove(id)
	}
	out.Holds = replaced(out.Holds, over.Holds, func(h holdFile) string { return h.ID.v })
	out.Nevers = replaced(out.Nevers, over.Nevers, func(n neverFile) string { return n.ID.v })
	say := maps.Clone(base.Say.v)
	if say == nil {
		say = map[string]at[oneOrMany]{}
	}
	for id, more := range over.Say.v {
		both := say[id]
		both.v = slices.Concat(both.v, more.v)
		say[id] = both
	}
	out.Say.v = say
	return out
}

func overlay[T any](under *at[T], over at[T]) {
	if over.set {
		*under = over
	}
}

// replaced puts those of more in the place of the ones of the same id, and the
// others behind.
func replaced[T any](list, more []at[T], id func(T) string) []at[T] {
	list = slices.Clone(list)
	for _, m := range more {
		if i := slices.IndexFunc(list, func(o at[T]) bool { return id(o.v) == id(m.v) }); i >= 0 && id(m.v) != "" {
			list[i] = m
		} else {
			list = append(list, m)
		}
	}
	return list
}

// merge changes a procedure as it is written. Its slices are its own.
type merge struct {
	*reader
	*procedureFile
}

// spot is where a step is written: its phase, its entry and its place in that.
type spot struct{ phase, entry, step int }

func (m *merge) find(id string) (spot, bool) {
	for i, ph := range m.Phases {
		for j, e := range ph.v.Steps {
			list, _ := e.v.steps()
			for k, s := range list {
				if s.v.ID.v == id && id != "" {
					return spot{i, j, k}, true
				}
			}
		}
	}
	return spot{}, false
}

func (m *merge) ids() (ids []string) {
	for _, ph := range m.Phases {
		for _, e := range ph.v.Steps {
			list, _ := e.v.steps()
			for _, s := range list {
				ids = append(ids, s.v.ID.v)
			}
		}
	}
	return ids
}

// set puts another step in a spot.
func (m *merge) set(at spot, s at[stepFile]) {
	e := &m.Phases[at.phase].v.Steps[at.entry].v
	if e.oneOf.set {
		e.oneOf.v[at.step] = s
	} else {
		e.step = s
	}
}

func (m *merge) get(at spot) at[stepFile] {
	list, _ := m.Phases[at.phase].v.Steps[at.entry].v.steps()
	return list[at.step]
}

// change lays the settings of a step over those it has.
func (m *merge) change(c at[stepFile]) {
	if c.v.ID.v == "" {
		m.fail(c.at, "say with \"id\" which step of %q is to be changed", m.Extends.v)
		return
	}
	at, ok := m.find(c.v.ID.v)
	if !ok {
		m.fail(c.v.ID.at, "%q has no step %q to change%s", m.Extends.v, c.v.ID.v, Meant(c.v.ID.v, m.ids()))
		return
	}
	s := m.get(at)
	under, over := reflect.ValueOf(&s.v).Elem(), reflect.ValueOf(c.v)
	for i := range under.NumField() {
		if over.Field(i).FieldByName("set").Bool() {
			under.Field(i).Set(over.Field(i))
		}
	}
	if c.v.After.set { // the one excludes the other, and the last word counts
		s.v.Anytime.v = false
	} else if c.v.Anytime.v {
		s.v.After.v, s.v.After.set = nil, false
	}
	m.set(at, s)
}

func (m *merge) add(in at[addFile]) {
	v := in.v
	if len(v.Steps) == 0 && !m.broken[lack{in.at, "steps"}] {
		m.fail(in.at, "there are no \"steps\" to add")
		return
	}
	phase, entry := 0, 0
	switch where := []at[string]{v.Above, v.Below, v.Phase}; {
	case count(where) != 1:
		m.fail(in.at, `say where the steps go with one of "above: STEP", "below: STEP" or "phase: TITLE"`)
		return
	case v.Phase.set:
		var titles []string
		for _, ph := range m.Phases {
			titles = append(titles, ph.v.Title.v)
		}
		if phase = slices.Index(titles, v.Phase.v); phase < 0 {
			m.fail(v.Phase.at, "%q has no phase %q%s", m.Extends.v, v.Phase.v, Meant(v.Phase.v, titles))
			return
		}
		entry = len(m.Phases[phase].v.Steps)
	default:
		id := v.Above
		if v.Below.set {
			id = v.Below
		}
		at, ok := m.find(id.v)
		if !ok {
			m.fail(id.at, "%q has no step %q%s", m.Extends.v, id.v, Meant(id.v, m.ids()))
			return
		}
		phase, entry = at.phase, at.entry
		if v.Below.set {
			entry++
		}
	}
	ph := &m.Phases[phase].v
	ph.Steps = slices.Insert(ph.Steps, entry, v.Steps...)
}

func count(list []at[string]) (n int) {
	for _, v := range list {
		if v.set {
			n++
		}
	}
	return n
}

// remove takes out a step, hold or never. What followed the step follows
// what it followed.
func (m *merge) remove(id at[string]) {
	holds := slices.DeleteFunc(m.Holds, func(h at[holdFile]) bool { return h.v.ID.v == id.v })
	nevers := slices.DeleteFunc(m.Nevers, func(n at[neverFile]) bool { return n.v.ID.v == id.v })
	if len(holds) < len(m.Holds) || len(nevers) < len(m.Nevers) {
		m.Holds, m.Nevers = holds, nevers
		return
	}
	here, ok := m.find(id.v)
	if !ok {
		m.fail(id.at, "%q has no step, hold or never %q to remove%s", m.Extends.v, id.v, Meant(id.v, m.ids()))
		return
	}
	if m.needed(id) {
		return
	}
	gone := m.get(here)
	ph := &m.Phases[here.phase].v
	if e := &ph.Steps[here.entry].v; e.oneOf.set && len(e.oneOf.v) > 2 {
		e.oneOf.v = slices.Delete(e.oneOf.v, here.step, here.step+1)
	} else if e.oneOf.set {
		*e = entryFile{step: e.oneOf.v[1-here.step]}
	} else {
		ph.Steps = slices.Delete(ph.Steps, here.entry, here.entry+1)
	}
	followed := gone.v.After.v
	if !gone.v.After.set && !gone.v.Anytime.v && here.entry > 0 {
		list, _ := ph.Steps[here.entry-1].v.steps()
		for _, s := range list {
			followed = append(followed, s.v.ID)
		}
	}
	for i := range m.Phases {
		for j := range m.Phases[i].v.Steps {
			list, _ := m.Phases[i].v.Steps[j].v.steps()
			for k, s := range list {
				named := slices.IndexFunc(s.v.After.v, func(a at[string]) bool { return a.v == id.v })
				if named >= 0 {
					s.v.After.v = slices.Concat(s.v.After.v[:named], followed, s.v.After.v[named+1:])
					m.set(spot{i, j, k}, s)
				}
			}
		}
	}
}

// needed complains where something counts on the step that is to be removed.
func (m *merge) needed(id at[string]) bool {
	told := len(m.errs)
	for _, ph := range m.Phases {
		for _, e := range ph.v.Steps {
			list, _ := e.v.steps()
			for _, s := range list {
				if s.v.ID.v == id.v {
					continue
				}
				if s.v.Within.v.Of.v == id.v || s.v.NotBefore.v.Of.v == id.v {
					m.fail(id.at, "step %q cannot be removed: the time of %q counts from it; change or remove that too", id.v, s.v.ID.v)
				}
				if s.v.Value.v.AsCalledAt.v == id.v {
					m.fail(id.at, "step %q cannot be removed: the figure of %q is as called there; change or remove that too", id.v, s.v.ID.v)
				}
			}
		}
	}
	for _, h := range m.Holds {
		if h.v.From.v.Step.v == id.v || h.v.Until.v.Step.v == id.v || h.v.Value.v.AsCalledAt.v == id.v {
			m.fail(id.at, "step %q cannot be removed: the hold %q needs it; remove that too", id.v, h.v.ID.v)
		}
	}
	for _, n := range m.Nevers {
		if n.v.From.v.Step.v == id.v || n.v.Until.v.Step.v == id.v {
			m.fail(id.at, "step %q cannot be removed: the never %q needs it; remove that too", id.v, n.v.ID.v)
		}
	}
	return len(m.errs) > told
}
