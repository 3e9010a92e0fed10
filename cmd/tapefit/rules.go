package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"tapefit/profiles"
	"tapefit/rules"
)

func (a *app) rulesCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "rules [NAME]",
		Short: "List the rules, or explain one",
		Long: `Rules lists what is checked, by family, with the level of each. With a name it
explains one rule: why it matters at the machine, what it reads from the
profile, a program on which it speaks, and the mended program.`,
		Example: `  tapefit rules
  tapefit rules speed-straddles-gear`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				a.written(a.text().Rules(rules.All()))
				return nil
			}
			rule := rules.Find(args[0])
			if rule == nil {
				var names []string
				for _, r := range rules.All() {
					names = append(names, r.Name)
				}
				return fmt.Errorf("no rule %q%s (\"tapefit rules\" lists them)", args[0], profiles.DidYouMean(args[0], names))
			}
			a.written(a.text().Rule(rule))
			return nil
		},
	}
}
