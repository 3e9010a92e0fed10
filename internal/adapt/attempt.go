package adapt

import (
	"io"
	"os"
	"slices"
)

// An attempt is the program written for the machine while it is still being looked
// at whether that is needed. Most programs need it, and there is more than one
// processor.
type attempt struct {
	file    *os.File // temporary
	res     *Result  // what was done
	dropped chan struct{}
	ended   <-chan outcome[struct{}]
}

// begin begins an attempt. What res has so far was done to src.
func begin(src io.ReaderAt, size int64, seen *sight, res *Result, opt *Options) (*attempt, error) {
	file, err := os.CreateTemp("", "tapefit-*")
	if err != nil {
		return nil, err
	}
	t := &attempt{file: file, res: &Result{From: res.From, To: res.To, Changes: slices.Clone(res.Changes)}, dropped: make(chan struct{})}
	own := *opt
	own.Done = either(opt.Done, t.dropped)
	t.ended = async(func() (struct{}, error) { return struct{}{}, writeAll(file, src, size, seen, t.res, &own) })
	return t, nil
}

// either is closed when one of the two is. The second must be, at some time.
func either(a <-chan struct{}, b chan struct{}) <-chan struct{} {
	c := make(chan struct{})
	go func() {
		select {
		case <-a:
		case <-b:
		}
		close(c)
	}()
	return c
}

// take waits for the attempt, and takes it for the output.
func (t *attempt) take(out io.Writer, res *Result) error {
	_, err := join(t.ended, nil)
	t.ended = nil
	if err != nil {
		return err
	}
	size := t.res.Wrote
	res.Changes, res.Left, res.Fits = t.res.Changes, t.res.Left, t.res.Fits
	return text{t.file, size}.copyTo(out, res)
}

// drop ends the attempt. It may have been taken.
func (t *attempt) drop() {
	close(t.dropped)
	if t.ended != nil {
		<-t.ended
	}
	t.file.Close()
	os.Remove(t.file.Name())
}
