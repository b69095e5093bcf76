package figures

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// best is the likeliest reading of all the words of s as q.
func best(t *testing.T, s string, q Quantity) (float64, bool) {
	t.Helper()
	words := strings.Fields(s)
	for _, r := range NewLine(words).At(0, q) {
		if r.UnitEnd == len(words) {
			return r.Value, true
		}
	}
	return 0, false
}

const (
	aim  = "FAA AIM "
	jo   = "FAA Order JO 7110.65 "
	icao = "ICAO Annex 10 pronunciation"
	rec  = "how recognisers write it"
	use  = "common practice, no source"
)

func TestAPilotsFigureIsReadAsThePublicationSays(t *testing.T) {
	for _, c := range []struct {
		said   string
		as     Quantity
		want   float64
		source string
	}{
		{"five hundred", Altitude, 500, aim + "4-2-8 a"},
		{"four thousand five hundred", Altitude, 4500, aim + "4-2-8 a"},
		{"one zero thousand", Altitude, 10000, aim + "4-2-8 b"},
		{"one three thousand five hundred", Altitude, 13500, aim + "4-2-8 b"},
		{"one zero", Count, 10, aim + "4-2-8 d"},
		{"one two two point one", Frequency, 122.1, aim + "4-2-8 e"},
		{"one two two decimal one", Frequency, 122.1, aim + "4-2-8 e, the ICAO way"},
		{"one two thousand", Altitude, 12000, aim + "4-2-9 a"},
		{"one two thousand five hundred", Altitude, 12500, aim + "4-2-9 a"},
		{"flight level one niner zero", Altitude, 19000, aim + "4-2-9 b"},
		{"flight level two seven five", Altitude, 27500, aim + "4-2-9 b"},
		{"zero zero five", Heading, 5, aim + "4-2-10"},
		{"zero five zero", Heading, 50, aim + "4-2-10"},
		{"one zero zero", Heading, 100, aim + "4-2-10"},
		{"three six zero", Heading, 360, aim + "4-2-10"},
		{"two two zero", Heading, 220, aim + "4-2-10, a wind direction"},
		{"two five zero knots", Airspeed, 250, aim + "4-2-11"},
		{"one niner zero knots", Airspeed, 190, aim + "4-2-11"},
		{"one one four niner five", Count, 11495, jo + "2-4-17 a"},
		{"two zero zero six niner", Count, 20069, jo + "2-4-17 a"},
		{"one one thousand", Altitude, 11000, jo + "2-4-17 b"},
		{"one seven thousand niner hundred", Altitude, 17900, jo + "2-4-17 b"},
		{"ten thousand", Altitude, 10000, jo + "2-4-17 b, group form"},
		{"eleven thousand", Altitude, 11000, jo + "2-4-17 b, group form"},
		{"seventeen thousand niner hundred", Altitude, 17900, jo + "2-4-17 b, group form"},
		{"flight level one eight zero", Altitude, 18000, jo + "2-4-17 b"},
		{"one three two zero", Altitude, 1320, jo + "2-4-17 b"},
		{"four eight six", Altitude, 486, jo + "2-4-17 b"},
		{"thirty-five eighty", Altitude, 3580, use + ", group form"},
		{"seventeen hundred", RPM, 1700, use + ", group form"},
		{"twenty three hundred", RPM, 2300, use + ", group form"},
		{"twenty-three hundred rpm", RPM, 2300, use + ", group form"},
		{"twenty three fifty", RPM, 2350, use + ", group form"},
		{"two three hundred", RPM, 2300, use},
		{"two thousand three hundred", RPM, 2300, use},
		{"thirty-five hundred feet", Altitude, 3500, use},
		{"three thousand and fifty", Altitude, 3050, use},
		{"three and a half thousand", Altitude, 3500, use},
		{"sixty five", Airspeed, 65, use},
		{"six five", Airspeed, 65, use},
		{"one hundred", Airspeed, 100, use},
		{"a hundred", Airspeed, 100, use},
		{"one ten", Airspeed, 110, use},
		{"two seven zero", Heading, 270, use},
		{"two seventy", Heading, 270, use},
		{"zero zero zero", Heading, 360, use + ": north is 360"},
		{"zero niner zero", Heading, 90, icao},
		{"fife fower tree", Count, 543, icao},
		{"tree tousand fife hundred", Altitude, 3500, icao},
		{"oh niner oh", Heading, 90, use},
		{"three oh five", Heading, 305, use},
		{"3,500", Altitude, 3500, rec},
		{"3500", Altitude, 3500, rec},
		{"3,500.", Altitude, 3500, rec},
		{"10,000", Altitude, 10000, rec},
		{"10 thousand", Altitude, 10000, rec},
		{"3 thousand 500", Altitude, 3500, rec},
		{"17 hundred", RPM, 1700, rec},
		{"17 100", RPM, 1700, rec},
		{"2-7-0", Heading, 270, rec},
		{"2, 7, 0.", Heading, 270, rec},
		{"270", Heading, 270, rec},
		{"090", Heading, 90, rec},
		{"27 0", Heading, 270, rec},
		{"five five", Airspeed, 55, rec},
		{"1700 RPM", RPM, 1700, rec},
		{"1700rpm", RPM, 1700, rec},
		{"65 knots", Airspeed, 65, rec},
		{"65kts", Airspeed, 65, rec},
		{"122.1", Frequency, 122.1, rec},
		{"122 point 1", Frequency, 122.1, rec},
		{"FL190", Altitude, 19000, rec},
		{"FL 190", Altitude, 19000, rec},
		{"20°", Flaps, 20, rec},
		{"to seven zero", Heading, 270, rec + ": to for two"},
		{"three for zero", Heading, 340, rec + ": for for four"},
		{"won ate zero", Heading, 180, rec + ": won for one, ate for eight"},
		{"free tree zero", Heading, 330, rec + ": free for three"},
		{"six, uh, five", Airspeed, 65, use + ": thinking aloud"},
	} {
		got, ok := best(t, c.said, c.as)
		if !ok || got != c.want {
			t.Errorf("%q as %s: got %v (found %v), want %v; source: %s", c.said, c.as, got, ok, c.want, c.source)
		}
	}
}

func TestTheSlotPicksAmongTheReadings(t *testing.T) {
	for _, c := range []struct {
		words string
		as    Quantity
		want  float64
		taken int
	}{
		{"flaps twenty sixty five knots", Flaps, 20, 1},
		{"flaps twenty, sixty five knots", Flaps, 20, 1},
		{"heading two seven zero three thousand five hundred", Heading, 270, 3},
		{"power twenty three hundred flaps ten", RPM, 2300, 3},
		{"speed sixty five flaps ten", Airspeed, 65, 2},
		{"power seventeen", RPM, 1700, 1},
		{"altitude three thousand five", Altitude, 3500, 3},
		{"altitude three point five", Altitude, 3500, 3},
		{"level four thousand, five hundred.", Altitude, 4500, 4},
		{"level four thousand. five hundred people", Altitude, 4000, 2},
		{"heading one eighth zero", Heading, 180, 3},
	} {
		rs := NewLine(strings.Fields(c.words)).At(1, c.as)
		if len(rs) == 0 || rs[0].Value != c.want || rs[0].End-rs[0].First != c.taken {
			t.Errorf("%q as %s: got %+v, want %v over %d words first", c.words, c.as, rs, c.want, c.taken)
		}
	}
}

func TestWhatCannotBeMeantIsNoReading(t *testing.T) {
	for _, c := range []struct {
		words string
		as    Quantity
	}{
		{"three six one", Heading},
		{"sixty five knots", Heading},
		{"sixty knots", Flaps},
		{"ninety", Flaps},
		{"five", Airspeed},
		{"to", Airspeed},
		{"for", Heading},
		{"four thousand", RPM},
		{"the", Altitude},
		{"2nd", Count},
		{"oh", Heading},
		{"a", Count},
	} {
		if got, ok := best(t, c.words, c.as); ok {
			t.Errorf("%q read as %s %v, want no reading", c.words, c.as, got)
		}
	}
}

func TestFiguresInRunningTextNameTheirQuantity(t *testing.T) {
	for _, c := range []struct {
		text string
		want string
	}{
		{"okay heading two seven zero and sixty five knots", "heading=270 airspeed=65"},
		{"level at 3,500 feet with 1700 RPM", "altitude=3500 rpm=1700"},
		{"thirty degrees of bank", "bank=30"},
		{"twenty degrees of flap", "flaps=20"},
		{"wind two two zero at one two", "heading=220 =12"},
		{"climb flight level one niner zero", "altitude=19000"},
		{"we went to the store for a while", ""},
		{"oh that was nice", ""},
		{"what did you have for lunch", ""},
		{"the tree over there, and that free field", ""},
	} {
		var got []string
		last := -1
		for _, r := range Parse(strings.Fields(c.text)) {
			if r.First != last {
				got = append(got, fmt.Sprintf("%s=%v", r.Quantity, r.Value))
			}
			last = r.First
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%q: got %q, want %q", c.text, s, c.want)
		}
	}
}

func TestAFigureBeforeItsUnitIsReadWhole(t *testing.T) {
	for _, c := range []struct {
		words string
		end   int
		as    Quantity
		want  float64
		first int
	}{
		{"hold it there sixty five knots please", 5, Airspeed, 65, 3},
		{"three thousand five hundred feet", 4, Altitude, 3500, 0},
		{"heading two seven zero, sixty five knots", 6, Airspeed, 65, 4},
		{"climb 3,500 feet", 2, Altitude, 3500, 1},
	} {
		rs := NewLine(strings.Fields(c.words)).Before(c.end, c.as)
		if len(rs) == 0 || rs[0].Value != c.want || rs[0].First != c.first {
			t.Errorf("%q: got %+v, want %v from word %d", c.words, rs, c.want, c.first)
		}
	}
}

// The speaker says numbers the way AIM chapter 4 section 2 asks for.

var digitNames = strings.Fields("zero one two three four five six seven eight niner")

func sayDigits(n, width int) string {
	s := fmt.Sprintf("%0*d", width, n)
	var out []string
	for _, d := range s {
		out = append(out, digitNames[d-'0'])
	}
	return strings.Join(out, " ")
}

func sayAltitude(ft int) string {
	var out []string
	if t := ft / 1000; t > 0 {
		out = append(out, sayDigits(t, 1), "thousand")
	}
	if h := ft % 1000 / 100; h > 0 {
		out = append(out, digitNames[h], "hundred")
	}
	return strings.Join(out, " ")
}

var teens = strings.Fields("ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen")
var tensNames = strings.Fields("- - twenty thirty forty fifty sixty seventy eighty ninety")

func sayPlain(n int) string {
	switch {
	case n < 10:
		return strings.Replace(digitNames[n], "niner", "nine", 1)
	case n < 20:
		return teens[n-10]
	case n%10 == 0:
		return tensNames[n/10]
	}
	return tensNames[n/10] + " " + sayPlain(n%10)
}

func mustRead(t *testing.T, said string, q Quantity, want int) {
	t.Helper()
	if got, ok := best(t, said, q); !ok || got != float64(want) {
		t.Errorf("%q as %s: got %v (found %v), want %d", said, q, got, ok, want)
	}
}

func TestEveryAltitudeInHundredsComesBack(t *testing.T) {
	for ft := 100; ft <= 60000; ft += 100 {
		mustRead(t, sayAltitude(ft), Altitude, ft)
		if ft >= 18000 {
			mustRead(t, "flight level "+sayDigits(ft/100, 3), Altitude, ft)
		}
		if ft < 10000 && ft%1000 != 0 && ft >= 1000 {
			mustRead(t, sayPlain(ft/100)+" hundred", Altitude, ft)
		}
	}
}

func TestEveryHeadingComesBack(t *testing.T) {
	for h := 1; h <= 360; h++ {
		mustRead(t, sayDigits(h, 3), Heading, h)
		mustRead(t, fmt.Sprintf("%03d", h), Heading, h)
	}
}

func TestEverySpeedComesBack(t *testing.T) {
	for kt := 30; kt <= 250; kt++ {
		mustRead(t, sayDigits(kt, 1)+" knots", Airspeed, kt)
		mustRead(t, fmt.Sprintf("%d knots", kt), Airspeed, kt)
		if kt < 100 {
			mustRead(t, sayPlain(kt), Airspeed, kt)
		}
	}
}

func TestAnyMixOfWordsAndDigitsComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 360).Draw(t, "heading")
		var out []string
		for _, d := range fmt.Sprintf("%03d", n) {
			switch rapid.IntRange(0, 2).Draw(t, "spelling") {
			case 0:
				out = append(out, digitNames[d-'0'])
			case 1:
				out = append(out, string(d))
			case 2:
				out = append(out, sayPlain(int(d-'0')))
			}
		}
		sep := rapid.SampledFrom([]string{" ", "-", ", "}).Draw(t, "separator")
		words := strings.Fields(strings.Join(out, sep))
		rs := NewLine(words).At(0, Heading)
		if len(rs) == 0 || rs[0].Value != float64(n) || rs[0].End != len(words) {
			t.Fatalf("%q: got %+v, want %d", words, rs, n)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"two seven zero", "3,500 feet", "FL190", "1.2.3", ",,,", "fl", "a hundred and", "point", "two thousand and oh", "9999999 hundred thousand"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		words := strings.Fields(s)
		l := NewLine(words)
		for _, q := range []Quantity{"", Altitude, Heading, RPM, Flaps, Airspeed, Frequency} {
			for w := range words {
				for _, r := range l.At(w, q) {
					if r.First != w || r.End <= w || r.End > r.UnitEnd || r.UnitEnd > len(words) || r.Weight <= 0 || r.Weight > 1 {
						t.Fatalf("%q at %d as %q: impossible reading %+v", s, w, q, r)
					}
					if q == Heading && (r.Value < 1 || r.Value > 360) {
						t.Fatalf("%q: heading %v", s, r.Value)
					}
				}
			}
		}
		l.All()
	})
}

func BenchmarkParse(b *testing.B) {
	words := strings.Fields("okay level three thousand five hundred heading two seven zero and sixty five knots power 1,700 RPM flaps twenty")
	b.ReportAllocs()
	for b.Loop() {
		Parse(words)
	}
}
