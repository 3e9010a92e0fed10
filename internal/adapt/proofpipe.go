package adapt

// batchSize is how many steps go from one goroutine to the other at once.
const batchSize = 256

type batch struct {
	n     int
	steps [batchSize]step
}

// A pipe carries steps from the goroutine that interprets a program to the one
// that compares. Batches go round and are used again.
type pipe struct {
	full, empty chan *batch
	done        chan struct{} // closed: nobody reads any more
	fill        *batch
}

func newPipe(done chan struct{}) *pipe {
	const batches = 4
	p := &pipe{full: make(chan *batch, batches), empty: make(chan *batch, batches), done: done}
	for range batches - 1 {
		p.empty <- new(batch)
	}
	p.fill = new(batch)
	return p
}

// add gives the next step, to be filled in before the next call.
func (p *pipe) add(kind stepKind, line int) *step {
	if p.fill.n == batchSize {
		p.send()
	}
	s := &p.fill.steps[p.fill.n]
	p.fill.n++
	s.kind, s.line, s.state, s.text = kind, line, nil, ""
	return s
}

func (p *pipe) send() {
	select {
	case p.full <- p.fill:
	case <-p.done:
		p.fill.n = 0
		return
	}
	select {
	case p.fill = <-p.empty:
	case <-p.done:
	}
	p.fill.n = 0
}

// close sends what is left. After it nothing is added.
func (p *pipe) close() {
	select {
	case p.full <- p.fill:
	case <-p.done:
	}
	close(p.full)
}

// A reader takes steps out of a pipe. Those that were looked at ahead stay
// until next goes past them.
type reader struct {
	p      *pipe
	batch  []*batch // at most as many as needed to look ahead
	at     int      // in the first
	closed bool
}

// peek gives the step k ahead of the next one, nil behind the end.
func (r *reader) peek(k int) *step {
	k += r.at
	for i := 0; ; i++ {
		if i == len(r.batch) {
			if r.closed {
				return nil
			}
			b, ok := <-r.p.full
			if !ok {
				r.closed = true
				return nil
			}
			r.batch = append(r.batch, b)
		}
		if k < r.batch[i].n {
			return &r.batch[i].steps[k]
		}
		k -= r.batch[i].n
	}
}

// next goes on to the step after this one. What peek gave for this one is
// then no longer valid.
func (r *reader) next() {
	r.at++
	if r.at < r.batch[0].n {
		return
	}
	b := r.batch[0]
	copy(r.batch, r.batch[1:])
	r.batch = r.batch[:len(r.batch)-1]
	r.at = 0
	select {
	case r.p.empty <- b:
	default:
	}
}
