package report

import (
	"io"

	"tapefit/internal/interp"
	"tapefit/profiles"
	"tapefit/rules"
)

// look checks a program and then walks it once more to draw it, since what may
// be left out of a picture hangs on the findings and extents. A setup that is
// not nil looks on too. The error is one of reading src.
func look(src io.ReaderAt, size int64, path string, m *profiles.Machine, set []*rules.Rule, opt rules.Options, also *setup) (*rules.Result, *Scene, error) {
	r, err := rules.Check(src, size, path, m, set, opt)
	if err != nil {
		return nil, nil, err
	}
	s := NewScene(r, sceneSize)
	watch := s.Watch()
	if also != nil {
		watch.Move = func(op *interp.Op) { s.move(op); also.move(op) }
		watch.Stood = func(op *interp.Op, now float64) { s.stood(op, now); also.stood(op) }
	}
	opt.Watch, opt.Stretches = watch, false
	if _, err := rules.Check(src, size, path, m, nil, opt); err != nil {
		return nil, nil, err
	}
	s.Finish()
	return r, s, nil
}
