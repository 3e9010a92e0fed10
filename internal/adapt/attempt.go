package adapt

import (
	"fmt"
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
	d := &attempt{file: file, res: &Result{From: res.From, To: res.To, Changes: slices.Clone(res.Changes)}, dropped: make(chan struct{})}
	own := *opt
	own.Done = either(opt.Done, d.dropped)
	d.ended = async(func() (struct{}, error) { return struct{}{}, writeAll(file, src, size, seen, d.res, &own) })
	return d, nil
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
func (d *attempt) take(out io.Writer, res *Result) error {
	if _, err := join(d.ended, nil); err != nil {
		return err
	}
	d.ended = nil
	size := d.res.Wrote
	res.Changes, res.Left, res.Fits = d.res.Changes, d.res.Left, d.res.Fits
	return text{d.file, size}.copyTo(out, res)
}

// drop ends the attempt. It may have been taken.
func (d *attempt) drop() {
	close(d.dropped)
	if d.ended != nil {
		<-d.ended
	}
	d.file.Close()
	os.Remove(d.file.Name())
}

// copyTo writes a program as it is.
func (t text) copyTo(out io.Writer, res *Result) error {
	res.Wrote = t.size
	if _, err := io.Copy(out, io.NewSectionReader(t.src, 0, t.size)); err != nil {
		return fmt.Errorf("writing: %w", err)
	}
	return nil
}
