package rules

import "slices"

// All are the rules, family by family.
func All() []*Rule {
	return slices.Concat(
		language(), letterMisreads(), numbers(), parameters(),
		sequence(), processes(), blocks(), waits(),
		control(), arcs(),
		cycles(), tappings(), unitsMisreads(), modes(),
		feeds(),
		spindle(), gearOrders(), runUps(),
		turnings(), clamps(),
		travel(), metals(), depths(),
		tools(), compensation(), offsets(), toolOrders(),
		mechanics(), silences(),
	)
}

// Find is the rule with the name, or nil.
func Find(name string) *Rule {
	for _, r := range All() {
		if r.Name == name {
			return r
		}
	}
	return nil
}
