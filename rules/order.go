package rules

import (
	"fmt"
	"strings"

	"tapefit/profiles"
)

// orderAssumed is what the rules about the order of tools can see of it.
const orderAssumed = `Two tools may change places, as far as is seen, if they cut at different places: the boxes in X and Y around all that each cuts, wider by the tools' radii (half an inch where the profile does not have the tool), do not meet, and no stop for the operator lies between. What else stands against another order, such as a part that is weaker after one cut or a burr that the next tool takes off, is not seen. Lathes are left out.`

const (
	orderHead = "%\nG20\n"
	orderLow  = "T%d M6\nM41\nS800 M3\nG0 X%d. Y0\nG43 H%[1]d Z1. M8\nG1 Z-.1 F8.\nX%[3]d.\nG0 Z1.\nM9\nM5\nG53 G0 Z0\n"
	orderHigh = "T%d M6\nM42\nS2000 M3\nG0 X%d. Y0\nG43 H%[1]d Z1. M8\nG1 Z-.1 F8.\nX%[3]d.\nG0 Z1.\nM9\nM5\nG53 G0 Z0\n"
)

// gearOrders belong to the spindle.
func gearOrders() []*Rule {
	low := func(tool, x int) string { return fmt.Sprintf(orderLow, tool, x, x+1) }
	high := func(tool, x int) string { return fmt.Sprintf(orderHigh, tool, x, x+1) }
	return []*Rule{{
		Name: "gear-order-wasteful", Family: "spindle", Level: Note,
		Summary: "another order of the tools would shift gears less often",
		Doc:     `Each shift takes its time in every part of the series. Where the tools that run in one gear do not depend on those between them, they can follow each other. The shift back to the first gear for the next part is counted too.` + "\n\n" + orderAssumed,
		Uses:    []string{"spindle.gears", "spindle.shift", "spindle.shift_time", "tools.loaded"},
		Example: Example{"bed-mill",
			orderHead + low(2, 0) + high(3, 4) + low(4, 8) + high(7, 12) + "M30\n%\n",
			orderHead + low(2, 0) + low(4, 8) + high(3, 4) + high(7, 12) + "M30\n%\n"},
		New: func(m *profiles.Machine, _ *Options) Checker {
			if len(m.Spindle.Gears) < 2 || m.Spindle.Shift == "by-hand" || m.Kind == "lathe" {
				return Checker{}
			}
			return Checker{End: gearOrder}
		},
	}}
}

// toolOrders are the rules about tools that come again.
func toolOrders() []*Rule {
	low := func(tool, x int) string { return fmt.Sprintf(orderLow, tool, x, x+1) }
	return []*Rule{{
		Name: "tool-called-twice-apart", Family: "tools", Level: Note,
		Summary: "a tool comes again, and what lies between does not need it to",
		Doc:     `Each change takes its time in every part of the series. Where a tool comes a second time and the tools between cut elsewhere, both of its works can be done in one. Most often such a program was put together from two.` + "\n\n" + orderAssumed,
		Uses:    []string{"tools.change_time", "tools.loaded"},
		Example: Example{"bed-mill",
			orderHead + low(2, 0) + low(3, 4) + low(2, 8) + "M30\n%\n",
			orderHead + low(2, 0) + low(2, 8) + low(3, 4) + "M30\n%\n"},
		New: func(m *profiles.Machine, _ *Options) Checker {
			if m.Kind == "lathe" {
				return Checker{}
			}
			return Checker{End: calledTwice}
		},
	}}
}

// mostOrdered bounds the tools whose order is looked at: each is compared with
// each.
const mostOrdered = 100

// cutters are the stretches in which something is cut; ok is false where not all
// of them are known.
func (p *Pass) cutters() (list []stretch, ok bool) {
	all, ok := p.work.stretches()
	for _, t := range all {
		if t.cuts > 0 {
			list = append(list, t)
			ok = ok && t.tool > 0 && t.at.Line > 0
		}
	}
	return list, ok && len(list) <= mostOrdered
}

// apart says whether two tools may change places, as far as is seen.
func apart(m *profiles.Machine, a, b *stretch) bool {
	if a.part != b.part || a.mixed || b.mixed || a.frame != b.frame {
		return false
	}
	gap := reach(m, a.tool) + reach(m, b.tool)
	return a.x.Min > b.x.Max+gap || b.x.Min > a.x.Max+gap || a.y.Min > b.y.Max+gap || b.y.Min > a.y.Max+gap
}

// reach is how far a tool cuts around its centre, mm.
func reach(m *profiles.Machine, tool int) float64 {
	for i := range m.Tools.Loaded {
		if t := &m.Tools.Loaded[i]; t.Number == tool && t.Diameter > 0 {
			return float64(t.Diameter) / 2
		}
	}
	return 12.7
}

func calledTwice(p *Pass) {
	list, ok := p.cutters()
	if !ok {
		return
	}
	m := p.Machine
	for k := range list {
		i := k - 1
		for i >= 0 && list[i].tool != list[k].tool {
			i--
		}
		if i < 0 || i == k-1 || list[i].part != list[k].part {
			continue
		}
		again, first, between := list[k], list[i], toolNames(list[i+1:k])
		if !together(m, list, i, k) {
			continue
		}
		n := p.Note(uint64(again.tool), again.at)
		if n == nil {
			continue
		}
		n.Message = fmt.Sprintf("tool %d comes again, after %s, and could follow on its first work, from line %d: what lies between is at other places, as far as is seen",
			again.tool, between, first.at.Line)
		if t := float64(m.Tools.ChangeTime); t > 0 {
			n.Message += fmt.Sprintf("; a change takes %s s", trim(t, 1))
		}
		n.Advice = "Do both works of the tool in one, if nothing but the places speaks for this order."
	}
}

// together brings the works i and k of a tool together, where what lies between
// leaves one of them free, and says whether it does.
func together(m *profiles.Machine, list []stretch, i, k int) bool {
	up, down := true, true
	for j := i + 1; j < k; j++ {
		up = up && apart(m, &list[j], &list[k])
		down = down && apart(m, &list[i], &list[j])
	}
	switch first, again := list[i], list[k]; {
	case up:
		copy(list[i+2:k+1], list[i+1:k])
		list[i+1] = again
	case down:
		copy(list[i:k-1], list[i+1:k])
		list[k-1] = first
	}
	return up || down
}

// toolNames lists tools: "T3, T4 and T5".
func toolNames(list []stretch) string {
	const most = 6
	var names []string
	for i := range list {
		if i == most {
			names = append(names, fmt.Sprintf("%d more", len(list)-most))
			break
		}
		names = append(names, "T"+toolName(list[i].tool))
	}
	return join(names, "and")
}

func gearOrder(p *Pass) {
	list, ok := p.cutters()
	if !ok || len(list) < 3 {
		return
	}
	for i := range list {
		if list[i].first < 0 || list[i].last < 0 {
			return
		}
	}
	m := p.Machine
	better := byGear(m, list)
	before, after := shiftsIn(list), shiftsIn(better)
	if after >= before || changesIn(better) > changesIn(list) {
		return
	}
	at := 0
	for list[at].at == better[at].at {
		at++
	}
	if n := p.Note(0, list[at].at); n != nil {
		n.Message = fmt.Sprintf("gears are shifted %s in each part; in the order %s it would be %d",
			count(before, "time"), orderText(better), after)
		if t := float64(m.Spindle.ShiftTime); t > 0 {
			n.Message += fmt.Sprintf(", %s s less", trim(float64(before-after)*t, 1))
		}
		n.Advice = "Order the tools so, if nothing but the places where they cut speaks for the order that is."
	}
}

// byGear orders the tools so that those of one gear follow each other where that
// is free: of the tools whose forerunners are done, one of the gear that is in.
// It begins in the gear that the program begins in.
func byGear(m *profiles.Machine, list []stretch) []stretch {
	waits := make([]int, len(list)) // for how many before it
	for k := range list {
		for i := range k {
			if !apart(m, &list[i], &list[k]) {
				waits[k]++
			}
		}
	}
	const done = -1
	gear := list[0].first
	order := make([]stretch, 0, len(list))
	for len(order) < len(list) {
		next, best := -1, -1
		for k := range list {
			score := 0
			switch {
			case waits[k] != 0:
				continue
			case list[k].first == gear && list[k].last == gear:
				score = 2
			case list[k].first == gear:
				score = 1
			}
			if score > best {
				next, best = k, score
			}
		}
		waits[next] = done
		for k := next + 1; k < len(list); k++ {
			if waits[k] > 0 && !apart(m, &list[next], &list[k]) {
				waits[k]--
			}
		}
		gear = list[next].last
		order = append(order, list[next])
	}
	return order
}

// shiftsIn counts the shifts of an order, that back to its first gear with them.
func shiftsIn(list []stretch) int {
	n := 0
	for i := range list {
		n += list[i].shifts
		if list[i].first != list[(i+len(list)-1)%len(list)].last {
			n++
		}
	}
	return n
}

// changesIn counts the tool changes of an order.
func changesIn(list []stretch) int {
	n := 1
	for i := 1; i < len(list); i++ {
		if list[i].tool != list[i-1].tool {
			n++
		}
	}
	return n
}

// orderText writes an order of tools: "T2 T4 T3".
func orderText(list []stretch) string {
	const most = 12
	var names []string
	for i := range list {
		if i == most {
			names = append(names, "...")
			break
		}
		names = append(names, "T"+toolName(list[i].tool))
	}
	return strings.Join(names, " ")
}
