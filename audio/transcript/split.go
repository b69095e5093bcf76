package transcript

// Split parts an utterance where nobody speaks for so many seconds or more
// between two words: a recogniser may have taken several for one.
func (u Utterance) Split(pause float64) []Utterance {
	var out []Utterance
	from := 0
	for i := 1; i < len(u.Words); i++ {
		if u.Words[i].Start-u.Words[i-1].End >= pause {
			out = append(out, u.Part(from, i))
			from = i
		}
	}
	return append(out, u.Part(from, len(u.Words)))
}

// Part is the utterance of words [from, to) of u, u itself when these are all.
func (u Utterance) Part(from, to int) Utterance {
	if from == 0 && to == len(u.Words) {
		return u
	}
	p := u
	p.Words = u.Words[from:to:to]
	if from > 0 {
		p.Start = p.Words[0].Start
	}
	if to < len(u.Words) {
		p.End = p.Words[len(p.Words)-1].End
	}
	p.Text = Join(p.Words)
	return p
}
