package transcript

// Split parts an utterance where nobody speaks for so many seconds or more
// between two words: a recogniser may have taken several for one.
func (u Utterance) Split(pause float64) []Utterance {
	var out []Utterance
	from := 0
	part := func(to int) {
		p := u
		p.Words = u.Words[from:to:to]
		if from > 0 {
			p.Start = p.Words[0].Start
		}
		if to < len(u.Words) {
			p.End = p.Words[len(p.Words)-1].End
		}
		p.Text = Join(p.Words)
		out = append(out, p)
		from = to
	}
	for i := 1; i < len(u.Words); i++ {
		if u.Words[i].Start-u.Words[i-1].End >= pause {
			part(i)
		}
	}
	if from == 0 {
		return []Utterance{u}
	}
	part(len(u.Words))
	return out
}
