package lsp

import "encoding/json"

// What is needed of JSON-RPC 2.0 and of the Language Server Protocol 3.17, with
// its names. Lines and characters count from 0, characters in UTF-16.

type incoming struct {
	ID     json.RawMessage `json:"id"`
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
	Result json.RawMessage `json:"result"`
}

type response struct {
	Version string          `json:"jsonrpc"`
	ID      json.RawMessage `json:"id"`
	Result  any             `json:"result"`
}

type failure struct {
	Version string          `json:"jsonrpc"`
	ID      json.RawMessage `json:"id"`
	Error   rpcError        `json:"error"`
}

type outgoing struct {
	Version string `json:"jsonrpc"`
	ID      string `json:"id,omitempty"` // of a request
	Method  string `json:"method"`
	Params  any    `json:"params"`
}

type rpcError struct {
	Code    int    `json:"code"`
	Message string `json:"message"`
}

// Codes of errors.
const (
	parseError       = -32700
	invalidRequest   = -32600
	methodNotFound   = -32601
	invalidParams    = -32602
	internalError    = -32603
	notInitialized   = -32002
	requestCancelled = -32800
	contentModified  = -32801
)

type position struct {
	Line      int `json:"line"`
	Character int `json:"character"`
}

type span struct {
	Start position `json:"start"`
	End   position `json:"end"`
}

type location struct {
	URI   string `json:"uri"`
	Range span   `json:"range"`
}

type documentID struct {
	URI     string `json:"uri"`
	Version int    `json:"version"`
}

type atDocument struct {
	TextDocument documentID `json:"textDocument"`
}

type atPosition struct {
	atDocument
	Position position `json:"position"`
}

type initializeParams struct {
	Options      json.RawMessage `json:"initializationOptions"`
	Capabilities struct {
		Workspace struct {
			Configuration bool `json:"configuration"`
			WorkspaceEdit struct {
				DocumentChanges bool `json:"documentChanges"`
			} `json:"workspaceEdit"`
			WatchedFiles struct {
				Dynamic bool `json:"dynamicRegistration"`
			} `json:"didChangeWatchedFiles"`
		} `json:"workspace"`
		TextDocument struct {
			Diagnostics struct {
				Related bool `json:"relatedInformation"`
			} `json:"publishDiagnostics"`
			Symbols struct {
				Hierarchical bool `json:"hierarchicalDocumentSymbolSupport"`
			} `json:"documentSymbol"`
		} `json:"textDocument"`
	} `json:"capabilities"`
}

type didOpenParams struct {
	TextDocument struct {
		documentID
		Text string `json:"text"`
	} `json:"textDocument"`
}

type didChangeParams struct {
	atDocument
	Changes []contentChange `json:"contentChanges"`
}

type contentChange struct {
	Range *span  `json:"range"` // nil: the whole text
	Text  string `json:"text"`
}

type diagnostic struct {
	Range    span      `json:"range"`
	Severity int       `json:"severity"`
	Code     string    `json:"code"`
	Source   string    `json:"source"`
	Message  string    `json:"message"`
	Related  []related `json:"relatedInformation,omitempty"`
}

// Severities.
const (
	severityError = iota + 1
	severityWarning
	severityInformation
)

type related struct {
	Location location `json:"location"`
	Message  string   `json:"message"`
}

type publishParams struct {
	URI         string       `json:"uri"`
	Version     *int         `json:"version,omitempty"`
	Diagnostics []diagnostic `json:"diagnostics"`
}

type hover struct {
	Contents markup `json:"contents"`
	Range    *span  `json:"range,omitempty"`
}

type markup struct {
	Kind  string `json:"kind"`
	Value string `json:"value"`
}

type codeActionParams struct {
	atDocument
	Range   span `json:"range"`
	Context struct {
		Only []string `json:"only"`
	} `json:"context"`
}

type codeAction struct {
	Title       string        `json:"title"`
	Kind        string        `json:"kind"`
	Diagnostics []diagnostic  `json:"diagnostics,omitempty"`
	Preferred   bool          `json:"isPreferred,omitempty"`
	Edit        workspaceEdit `json:"edit"`
}

type workspaceEdit struct {
	Changes         map[string][]textEdit `json:"changes,omitempty"`
	DocumentChanges []documentEdit        `json:"documentChanges,omitempty"`
}

type documentEdit struct {
	TextDocument documentID `json:"textDocument"`
	Edits        []textEdit `json:"edits"`
}

type textEdit struct {
	Range   span   `json:"range"`
	NewText string `json:"newText"`
}

type documentSymbol struct {
	Name      string           `json:"name"`
	Detail    string           `json:"detail,omitempty"`
	Kind      int              `json:"kind"`
	Range     span             `json:"range"`
	Selection span             `json:"selectionRange"`
	Children  []documentSymbol `json:"children,omitempty"`
}

type flatSymbol struct {
	Name      string   `json:"name"`
	Kind      int      `json:"kind"`
	Location  location `json:"location"`
	Container string   `json:"containerName,omitempty"`
}

// Kinds of symbols, of those that the protocol has: it thinks of other languages.
const (
	kindModule    = 2  // a program
	kindNamespace = 3  // a tool
	kindMethod    = 6  // a canned cycle
	kindFunction  = 12 // an operation
	kindEvent     = 24 // a call
	kindOperator  = 25 // a loop
)

type foldingRange struct {
	Start int    `json:"startLine"`
	End   int    `json:"endLine"`
	Kind  string `json:"kind,omitempty"`
}
