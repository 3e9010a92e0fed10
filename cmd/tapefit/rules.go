package main

import (
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"tapefit/profiles"
	"tapefit/rules"
)

func (a *app) rulesCommand() *cobra.Command {
	var shop shopFlags
	cmd := &cobra.Command{
		Use:   "rules [NAME]",
		Short: "List the rules, or explain one",
		Long: `Rules lists what is checked, by family, with the level of each. With a name it
explains one rule: why it matters at the machine, what it reads from the
profile, a program on which it speaks, and the mended program.

With --machine it knows the rules of that machine's shop too, which stand in its
profile under [[house]].`,
		Example: `  tapefit rules
  tapefit rules speed-straddles-gear
  tapefit rules --machine ./my-mill.toml`,
		Args: atMostOne("rule"),
		RunE: func(_ *cobra.Command, args []string) error {
			all := rules.All()
			switch {
			case shop.machine != "":
				var err error
				if all, err = a.rulesFor(&shop); all == nil {
					return err
				}
			case len(shop.folders)+len(shop.settings) > 0:
				return errors.New("--profiles and --set are for a machine: name it with --machine")
			}
			if len(args) == 0 {
				a.written(a.text().Rules(all))
				return nil
			}
			i := slices.IndexFunc(all, func(r *rules.Rule) bool { return r.Name == args[0] })
			if i < 0 {
				var names []string
				for _, r := range all {
					names = append(names, r.Name)
				}
				return fmt.Errorf("no rule %q%s (\"tapefit rules\" lists them)", args[0], profiles.DidYouMean(args[0], names))
			}
			a.written(a.text().Rule(all[i]))
			return nil
		},
	}
	shop.add(cmd)
	return cmd
}

// rulesFor are the rules for a machine. Without any, an error is wrong usage,
// and nil says that the failure was reported.
func (a *app) rulesFor(f *shopFlags) ([]*rules.Rule, error) {
	m, err := a.machine(f)
	if m == nil {
		return nil, err
	}
	return a.set(m), nil
}
