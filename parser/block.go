// Package parser turns the bytes of a part program into blocks and gives every
// byte back. It knows the writing of the language (RS274/NGC, ISO 6983-1,
// EIA RS-274-D) and nothing else: what a code means, whether a machine accepts
// it and what a number without a point is worth is decided further up. It
// imports no other package of this module.
package parser

// Kind says what sort of line a block is.
type Kind uint8

const (
	Ordinary  Kind = iota // words, settings, comments, flow; may be empty
	Percent               // a line that is nothing but a % mark (blanks and a title may follow it)
	Outside               // text before the first or after the last % mark: not part of the program
	Remainder             // what is left of a line longer than MaxBlock: one Junk token
)

// MaxBlock is the longest line, in bytes with its end, that is read as one
// block. What is longer is given back whole, as a block with a fault and
// Remainder blocks behind it, so that memory stays bounded on any input.
const MaxBlock = 4 << 20

// A Block is one line of a program. The block and all that it points to belong
// to the Reader that gave it and hold until its next call to Next; Clone copies
// one for keeping. Positions inside a block are byte offsets in Raw, so a
// column, counted from 1 in bytes, is Pos+1.
type Block struct {
	Line     int    // from 1
	Offset   int64  // of Raw[0] in the program, in bytes
	Raw      []byte // as written, with its end of line if it had one
	Kind     Kind
	Delete   uint8 // block delete: 0 none, 1 for "/" or "/1", up to 9 for "/9"
	Words    []Word
	Comments []Comment
	Settings []Setting
	Flow     *Flow   // nil on all but flow statements
	Faults   []Fault // what could not be read, in order of place

	nodes nodes // of the expressions, where the scanner has read them
}

// A Word is an address and its value: X1.5, G1, N0010, Z[#3+1].
// O carries the program number; a program number written with ":" has the
// address 'O' too. N carries the sequence number.
type Word struct {
	Address byte  // 'A' to 'Z', upper case however written
	Neg     bool  // written with a minus sign
	Point   bool  // written with a decimal point
	Whole   uint8 // digits written before the point (255 at most)
	Frac    uint8 // digits written after the point (255 at most)
	Pos     int32 // of the address
	End     int32 // behind the value
	Value   float64
	Expr    *Expr // not nil where the value is computed: [..], #.., a function; Value is then 0
}

// A Comment is ( .. ) or ; to the end of the line, with its marks.
type Comment struct {
	Pos, End int32
	Closed   bool // false: "(" without ")"; there is a fault as well
}

// A Setting is a parameter setting: #3=6, #[#1+2]=[#3*2].
type Setting struct {
	Pos, End int32
	Index    *Expr // what stands behind #
	Value    *Expr
	Bare     bool // Value is computed without brackets: #3=#3+1
}

// FlowKind is a form of flow statement.
type FlowKind uint8

const (
	Goto   FlowKind = iota + 1 // GOTO n
	IfGoto                     // IF [..] GOTO n
	IfThen                     // IF [..] THEN setting
	While                      // WHILE [..] DO n
	Do                         // DO n
	EndDo                      // END n
)

// A Flow is a flow statement. Pos and End span its text in the block.
type Flow struct {
	Kind     FlowKind
	Pos, End int32
	Cond     *Expr    // of IfGoto, IfThen, While
	Target   *Expr    // sequence number of Goto and IfGoto; label of While, Do, EndDo
	Then     *Setting // of IfThen
}

// A Fault is text in a block that is not in the language.
type Fault struct {
	Pos, End int32
	Wake     bool   // follows from a fault before it in the block: a word of text or a broken flow statement
	Cause    string // what is wrong and what to do, without the place: `"(" is never closed: end the comment with ")"`
}

// ExprOp is what a node of an expression does.
type ExprOp uint8

const (
	Number ExprOp = iota // Value
	Param                // # Args[0]
	Neg                  // - Args[0]
	Pow                  // ** ; binds tightest, from the left like the others
	Mul
	Div
	Mod
	Add
	Sub
	And
	Or
	Xor
	Eq // EQ, NE, GT, GE, LT, LE bind loosest
	Ne
	Gt
	Ge
	Lt
	Le
	Abs
	Acos
	Asin
	Atan // Args[0] over Args[1]: ATAN[a]/[b]
	Cos
	Exp
	Fix
	Fup
	Ln
	Round
	Sin
	Sqrt
	Tan
)

// An Expr is a node of an expression tree.
type Expr struct {
	Op       ExprOp
	Pos, End int32
	Value    float64 // of Number
	Args     []*Expr
}

// TokenKind is what a token is.
type TokenKind uint8

const (
	Space TokenKind = iota // blanks, tabs, NUL, the byte order mark
	DeleteMark
	WordToken
	CommentToken
	SettingToken
	FlowToken
	PercentToken
	OutsideToken // a whole line outside the % marks
	Junk         // in no form of the language; a fault covers it
	EndOfBlock   // LF, CR LF or CR
)

// A Token is a piece of a block's text.
type Token struct {
	Kind     TokenKind
	Pos, End int32
}

// Text is the part of the block's source from pos to end.
func (b *Block) Text(pos, end int32) []byte { return b.Raw[pos:end] }

// Word gives the first word with the address, or nil.
func (b *Block) Word(address byte) *Word {
	for i := range b.Words {
		if b.Words[i].Address == address {
			return &b.Words[i]
		}
	}
	return nil
}
