package report

import (
	"os/exec"
	"testing"
)

// The page's script holds to the types in its comments, by the TypeScript
// compiler.
func TestPageScriptTypes(t *testing.T) {
	tsc, err := exec.LookPath("tsc")
	if err != nil {
		t.Skip("no tsc in PATH (npm install -g typescript): TestPageScriptTypes did not run, and the types of page.js are not checked")
	}
	out, err := exec.Command(tsc, "--noEmit", "--allowJs", "--checkJs", "--strict", "--target", "es2022", "--lib", "es2022,dom,dom.iterable", "page/page.js").CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
