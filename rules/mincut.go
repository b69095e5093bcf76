package rules

// network is a flow network for finding a cheapest cut, by Dinic's method.
// Node 0 is the source, node 1 the sink.
type network struct {
	head  []int32 // per node, its first arc, -1 when it has none
	arcs  []arc
	level []int32
	iter  []int32
	queue []int32
	work  int // arcs looked at, ever
}

type arc struct {
	to, next int32
	room     cost
}

const unlimited cost = 1 << 60

func (g *network) reset(nodes int) {
	g.head, g.arcs = g.head[:0], g.arcs[:0]
	for range nodes {
		g.head = append(g.head, -1)
	}
}

// connect lays an arc with room one way and back room the other.
func (g *network) connect(from, to int32, room, back cost) {
	g.arcs = append(g.arcs, arc{to, g.head[from], room}, arc{from, g.head[to], back})
	g.head[from], g.head[to] = int32(len(g.arcs)-2), int32(len(g.arcs)-1)
}

// fill sends f along an arc that has the room.
func (g *network) fill(e int, f cost) {
	g.arcs[e].room -= f
	g.arcs[e^1].room += f
}

// cut fills the network with flow; after that, level is not negative exactly
// for the nodes on the source's side of a cheapest cut.
func (g *network) cut() (total cost) {
	for g.layer() {
		g.iter = append(g.iter[:0], g.head...)
		for {
			f := g.push(0, unlimited)
			if f == 0 {
				break
			}
			total += f
		}
	}
	return total
}

// layer numbers the nodes by their distance from the source and tells whether
// the sink can be reached.
func (g *network) layer() bool {
	g.level = g.level[:0]
	for range g.head {
		g.level = append(g.level, -1)
	}
	g.level[0] = 0
	g.queue = append(g.queue[:0], 0)
	g.work += len(g.arcs)
	for at := 0; at < len(g.queue); at++ {
		n := g.queue[at]
		for e := g.head[n]; e >= 0; e = g.arcs[e].next {
			if a := &g.arcs[e]; a.room > 0 && g.level[a.to] < 0 {
				g.level[a.to] = g.level[n] + 1
				g.queue = append(g.queue, a.to)
			}
		}
	}
	return g.level[1] >= 0
}

func (g *network) push(n int32, most cost) cost {
	if n == 1 {
		return most
	}
	for ; g.iter[n] >= 0; g.iter[n] = g.arcs[g.iter[n]].next {
		e := g.iter[n]
		a := g.arcs[e]
		g.work++
		if a.room <= 0 || g.level[a.to] != g.level[n]+1 {
			continue
		}
		if f := g.push(a.to, min(most, a.room)); f > 0 {
			g.fill(int(e), f)
			return f
		}
	}
	return 0
}
