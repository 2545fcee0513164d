"""One line of text taken apart: whatever it holds becomes a word, an assignment, a jump, a comment or a problem.

`parse_line` takes any text and never raises. A block with a ``fault`` among its problems was not understood as a whole: its
words are there for what can be shown, not to be acted on. What words mean, and which may stand together, is `interpret`'s;
what a jump does is `flow`'s.

The grammar is that of NISTIR 6556 (Kramer, Proctor, Messina, 2000, 3.3). Loops, calls and undefined values are not in the report:
they are read in the two families that are in use (common practice; reference nc-language 12).
"""

from __future__ import annotations

import bisect
import re
from dataclasses import dataclass, field

from firstoff.program.blocks import Assignment, Block, Jump, Value, Word
from firstoff.program.comments import Stripped, message_in, strip_comments
from firstoff.program.expressions import (
    WHOLE_TOLERANCE,
    Answers,
    NotRead,
    Scanner,
    compile_assigned,
    compile_target,
    compile_value,
)
from firstoff.program.moves import FAULT, NOTE, Problem

LONGEST_LINE = 256
"""Characters in a line by the report (NISTIR 6556, 3.3)."""
LONGEST_NUMBER = 5
"""Digits of a line number by the report (NISTIR 6556, 3.3.1)."""
LONGEST_CUSTOM_NUMBER = 9
"""Digits of a line number elsewhere: real files use six and seven; more is a slip."""
LONGEST_PROGRAM = 8
"""Digits of a program number: four in old controls, eight in young ones (common practice)."""
WORD_LETTERS = frozenset("ABCDFGHIJKLMPQRSTXYZ")
"""Letters that begin a word (NISTIR 6556, Table 3); N is read apart."""
ARGUMENTS = dict(
    zip("ABCDEFHIJKMQRSTUVWXYZ", (1, 2, 3, 7, 8, 9, 11, 4, 5, 6, 13, *range(17, 27)), strict=True)
)  # fmt: skip
"""Parameter that each letter of a G65 block sets (builder's operator manual, macro chapter, 1999 and 2010; reference P8)."""
SIZED_ARGUMENTS = frozenset("ABCEFIJKQRUVWXYZ")
"""Arguments that count in least increments where they are written without a point (reference P9; the letters from memory)."""
MOST_TRIPLES = 10
"""Sets of I J K that one G65 block can pass (reference P9)."""
DEEPEST_LOOPS = 3
"""DO numbers: 1, 2, 3 (reference nc-language 12)."""

_DIGITS = re.compile(r"[0-9]+")
_INTEGER = re.compile(r"[0-9]+(?![0-9.])")
_ZERO_AS_O = re.compile(r"[+-]?[0-9.]*[O][O0-9.]*")
_O_NAME = re.compile(r"<([^<>\[\]#]+)>")
_FLOW_WORD = re.compile(r"IF(?=\[)|GOTO|WH(?:I|IL|ILE)?(?=\[)|DO(?=[0-9#\[])|END(?=[0-9#\[])|THEN")
_O_WORD = re.compile(
    r"SUB|ENDSUB|CALL|RETURN|IF(?=\[)|ELSEIF|ELSE|ENDIF|WHILE|ENDWHILE|DO|REPEAT|ENDREPEAT|BREAK|CONTINUE"
)
_O_CONDITION = frozenset({"IF", "ELSEIF", "WHILE", "REPEAT"})
_O_RESULT = frozenset({"RETURN", "ENDSUB"})
_STRANGE = re.compile(r"[^A-Z#]+")
_NUMERAL = frozenset("0123456789.")
_MINUS_LIKE = "\u2010\u2011\u2012\u2013\u2014\u2212\ufe63\uff0d"


def parse_line(text: str, line: int, control: Answers) -> tuple[Block, list[Problem]]:
    """Take one line apart.

    `text` without its line end; `line` counts from 1. `control` is asked only what the line depends on. Problems come in the
    order of their columns; a ``fault`` among them means that the block as a whole was not understood.
    """
    return _Line(text, line, control, strip_comments(text, control)).parse()


# --- the line ---------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Line:
    raw: str
    line: int
    control: Answers
    stripped: Stripped
    scan: Scanner = field(init=False)
    columns: list[int] = field(init=False)
    """Raw position of each character of `scan.text`, and one past the last."""
    problems: list[Problem] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)
    assignments: list[Assignment] = field(default_factory=list)
    jump: Jump | None = None
    number: int | None = None
    deletable: bool = False

    def __post_init__(self) -> None:
        raw = self.raw
        self.columns = [
            at for begin, end in self.stripped.kept for at in range(begin, end) if raw[at] not in " \t\r"
        ]  # fmt: skip
        letters = [raw[at] for at in self.columns]
        self._part_numbers(letters)
        # only ASCII letters change case: some others would change the length of the text
        self.scan = Scanner("".join(c.upper() if c.isascii() else c for c in letters), self.control)
        self.columns.append(len(raw))

    def _part_numbers(self, letters: list[str]) -> None:
        """Put a bracket back where only a comment stands between two digits: a comment ends a number."""
        for begin, _ in self.stripped.kept[1:]:
            at = bisect.bisect_left(self.columns, begin)
            if 0 < at < len(letters) and letters[at - 1] in _NUMERAL and letters[at] in _NUMERAL:
                letters.insert(at, "(")
                self.columns.insert(at, self.columns[at - 1] + 1)

    def parse(self) -> tuple[Block, list[Problem]]:
        for begin, end, what, kind in self.stripped.complaints:
            self.problems.append(Problem(self.line, begin + 1, self.raw[begin:end], what, kind))
        if len(self.raw) > LONGEST_LINE and self.scan.report:
            self.problems.append(
                Problem(self.line, LONGEST_LINE + 1, self.raw[LONGEST_LINE:], f"longer than {LONGEST_LINE} characters")
            )
        percent = self.scan.text == "%"
        if not percent:
            self._head()
            self._body()
            self._calls()
            self._letters()
        self.problems.sort(key=lambda problem: problem.column)
        comments = self.stripped.comments
        block = Block(
            self.line, self.deletable, self.number, tuple(self.words), tuple(self.assignments), self.jump,
            message_in(comments[-1:] if self.scan.report else comments), " ".join(c.strip() for c in comments), percent,
        )  # fmt: skip
        return block, self.problems

    # places in the text

    def _text(self, begin: int, end: int) -> str:
        last = self.columns[max(begin, end - 1)]
        return self.raw[self.columns[begin] : last + 1]

    def _problem(self, what: str, begin: int, end: int, kind: str = FAULT) -> None:
        text = self._text(begin, end) if begin < len(self.scan.text) else ""
        self.problems.append(Problem(self.line, self.columns[begin] + 1, text, what, kind))

    # the parts, in the order in which they may stand

    def _head(self) -> None:
        scan = self.scan
        if scan.take("/"):
            self.deletable = True
            switch = None if scan.report else scan.match(_DIGITS)
            if switch:
                self._problem(
                    "a block delete switch with a number: it is taken like '/' alone", 0, scan.at,
                    FAULT if len(switch[0]) > 1 or switch[0] == "0" else NOTE,
                )  # fmt: skip
        if scan.next() == "N":
            self._block_number()

    def _block_number(self) -> None:
        scan, begin = self.scan, self.scan.at
        scan.at += 1
        digits = scan.match(_DIGITS)
        if not digits or scan.next() == ".":
            scan.at = self._resume(scan.at)
            self._problem("a line number is N and digits, without sign or point", begin, scan.at)
            return
        most = LONGEST_NUMBER if scan.report else LONGEST_CUSTOM_NUMBER
        if len(digits[0]) > most:
            self._problem(f"a line number has at most {most} digits", begin, scan.at)
        else:
            self.number = int(digits[0])

    def _body(self) -> None:
        scan = self.scan
        first = True
        while scan.at < len(scan.text):
            begin = scan.at
            character = scan.next()
            number = first and character in "O:"
            flow_word = _FLOW_WORD.match(scan.text, begin) and (first or character != "D")
            jumping = number or bool(flow_word)
            try:
                if number:
                    self._program_number()
                elif flow_word:
                    self._flow_word(first)
                elif character == "#":
                    self._assignment()
                elif "A" <= character <= "Z":
                    self._word()
                else:
                    self._strange()
            except NotRead as refusal:
                if jumping:
                    self._give_up(self.columns[begin] + 1)
                self._refused(refusal, begin)
            first = False

    def _refused(self, refusal: NotRead, begin: int) -> None:
        scan = self.scan
        touched = scan.text[begin : refusal.end + 1]
        if "[" in touched or "#" in touched:
            scan.at = len(scan.text)  # letters of a broken expression are no words
        else:
            scan.at = self._resume(max(refusal.end, begin + 1))
        self._problem(refusal.what, begin, scan.at)

    def _resume(self, at: int) -> int:
        """Position of the next letter or `#` from `at` on."""
        found = _STRANGE.match(self.scan.text, at)
        return found.end() if found else at

    def _word(self) -> None:
        scan, begin = self.scan, self.scan.at
        letter = scan.next()
        scan.at += 1
        if letter == "N":
            scan.at = self._resume(scan.at)
            self._problem("a line number must come first in its block", begin, scan.at)
            return
        if letter == "O" or self._zero_as_o(begin):
            self._letter_o(begin)
            return
        here = scan.at
        if scan.next() and scan.next() in _MINUS_LIKE:
            scan.refuse(_what_is(scan.next()), begin, here + 1)
        if scan.next() == "" or (scan.next().isalpha() and scan.next().isascii() and not self._function_here()):
            scan.refuse(f"{letter} has no number", begin, here)
        value = compile_value(scan)
        text = scan.text[here : scan.at]
        pointed = not isinstance(value, float) or "." in text
        word = Word(letter, value, self.columns[begin] + 1, self._text(begin, scan.at), pointed)
        self.words.append(word)
        self._split_number(word, here)

    def _function_here(self) -> bool:
        return re.match(r"[A-Z]{2,6}\[", self.scan.text[self.scan.at : self.scan.at + 8]) is not None

    def _split_number(self, word: Word, begin: int) -> None:
        """White space inside a number is in the report; elsewhere it is a slip: `G1 5` for `G1 X5` would be G15."""
        if isinstance(word.value, float) and not self.scan.report and self.columns[self.scan.at - 1] - self.columns[begin] >= self.scan.at - begin:  # fmt: skip
            self._problem(
                f"white space inside a number, which only the report allows ({word.letter}{word.value:g}): close it up",
                begin - 1,
                self.scan.at,
            )

    def _zero_as_o(self, begin: int) -> bool:
        """Whether the word's number has the letter O where a zero was meant."""
        return _ZERO_AS_O.match(self.scan.text, begin + 1) is not None

    def _letter_o(self, begin: int) -> None:
        found = _ZERO_AS_O.match(self.scan.text, begin if self.scan.text[begin] == "O" else begin + 1)
        self.scan.at = found.end() if found else begin + 1
        self._problem("a letter O stands here: write the digit 0 if a zero is meant", begin, self.scan.at)

    def _strange(self) -> None:
        scan, begin = self.scan, self.scan.at
        scan.at = self._resume(begin + 1)
        text = scan.text[begin : scan.at]
        self._problem(_what_is(text), begin, scan.at)

    def _assignment(self) -> None:
        scan, begin = self.scan, self.scan.at
        scan.at += 1
        target = compile_target(scan)
        if not scan.take("="):
            scan.refuse("a parameter alone: setting it is written #1=…", begin, scan.at)
        value = compile_assigned(scan)
        self.assignments.append(Assignment(target, value, self.columns[begin] + 1, self._text(begin, scan.at)))

    # program numbers and O-words

    def _family_allows(self, family: str) -> bool:
        answer = self.control.answer("macro_family")
        return answer is None or answer == family

    def _program_number(self) -> None:
        scan, begin = self.scan, self.scan.at
        if scan.report and self.control.answer("macro_family") == "none":
            scan.refuse("program numbers, loops and calls are not in the report", begin)
        colon = scan.next() == ":"
        scan.at += 1
        name = scan.match(_O_NAME)
        number = None if name else scan.match(_INTEGER)
        label: Value | str
        if name:
            label = name[1].lower()
        elif number:
            label = str(int(number[0][-18:]))
        elif scan.next() in ("#", "["):
            label = compile_value(scan)
        else:
            scan.refuse("a program number is O (or :) and digits", begin, scan.at)
        keyword = None if colon else scan.match(_O_WORD)
        if keyword:
            self._o_word(keyword[0], label, begin)
            return
        if not number:
            scan.refuse("a program has a number; a name needs one of sub, call, if, while, do, repeat", begin)
        if len(number[0]) > LONGEST_PROGRAM:
            scan.refuse(f"a program number has at most {LONGEST_PROGRAM} digits", begin, scan.at)
        self._set_jump(Jump("program", float(number[0]), column=self.columns[begin] + 1), begin)

    def _o_word(self, keyword: str, label: Value | str, begin: int) -> None:
        scan = self.scan
        if not self._family_allows("o-words"):
            scan.refuse(f"this control has no o-words ([control] macro_family): {keyword.lower()}", begin)
        condition: Value | None = None
        arguments: list[tuple[int, Value]] = []
        if keyword in _O_CONDITION:
            if scan.next() != "[":
                scan.refuse(f"{keyword.lower()} needs its condition in [ ]", begin, scan.at)
            condition = compile_value(scan)
        elif keyword in _O_RESULT and scan.next() == "[":
            condition = compile_value(scan)
        elif keyword == "CALL":
            while scan.next() == "[":
                arguments.append((len(arguments) + 1, compile_value(scan)))
        if len(arguments) > 30:
            scan.refuse("a call passes at most 30 values", begin, scan.at)
        if not isinstance(label, str) and keyword != "CALL":
            scan.refuse("only a call may work its number out", begin, scan.at)
        verb = keyword.lower()
        self._set_jump(
            Jump("o-call" if verb == "call" else verb, label, condition, tuple(arguments), column=self.columns[begin] + 1), begin
        )  # fmt: skip

    # macro words

    def _flow_word(self, first: bool) -> None:
        scan, begin = self.scan, self.scan.at
        found = scan.match(_FLOW_WORD)
        keyword = found[0] if found else ""
        if not self._family_allows("macro"):
            scan.refuse(
                f"this control has no loops and jumps written like this ([control] macro_family): {keyword}", begin
            )
        if not first or keyword == "THEN":
            scan.refuse(f"{keyword} must come first in its block", begin)
        column = self.columns[begin] + 1
        if keyword == "GOTO":
            jump = Jump("goto", compile_value(scan), column=column)
        elif keyword == "IF":
            jump = self._if(column)
        elif keyword == "DO":
            jump = Jump("do", self._loop_number(), column=column)
        elif keyword == "END":
            jump = Jump("endwhile", self._loop_number(), column=column)
        else:
            condition = compile_value(scan)
            if not scan.take("DO"):
                scan.refuse("WHILE[…] needs its DO", begin, scan.at)
            jump = Jump("while", self._loop_number(), condition, column=column)
        self._set_jump(jump, begin)
        if scan.at < len(scan.text):
            rest = scan.at
            scan.at = len(scan.text)
            self._problem(f"nothing may follow {keyword} in its block", rest, scan.at)

    def _if(self, column: int) -> Jump:
        scan, begin = self.scan, self.scan.at
        condition = compile_value(scan)
        if scan.take("GOTO"):
            return Jump("if-goto", compile_value(scan), condition, column=column)
        if not scan.take("THEN") or not scan.take("#"):
            scan.refuse("IF[…] goes on with GOTO n or with THEN #1=…", begin)
        begin = scan.at - 1
        target = compile_target(scan)
        if not scan.take("="):
            scan.refuse("THEN sets a parameter: #1=…", begin)
        then = Assignment(target, compile_assigned(scan), self.columns[begin] + 1, self._text(begin, scan.at))
        return Jump("if-then", None, condition, then=then, column=column)

    def _loop_number(self) -> float:
        scan, begin = self.scan, self.scan.at
        digits = scan.match(_INTEGER)
        if not digits or not 1 <= int(digits[0][-18:]) <= DEEPEST_LOOPS:
            scan.refuse(f"loops are numbered 1 to {DEEPEST_LOOPS}", begin)
        return float(digits[0])

    def _set_jump(self, jump: Jump, begin: int) -> None:
        if self.jump is None:
            self.jump = jump
        else:
            self._problem("two jumps in one block", begin, self.scan.at)
            self._give_up(jump.column)

    def _give_up(self, column: int) -> None:
        """There is a jump here, and where it leads is not understood."""
        self.jump = Jump("unknown", column=column if self.jump is None else min(column, self.jump.column))

    # calls written as words

    def _calls(self) -> None:
        """Turn M97, M98, M99 and G65 with the words that belong to them into a jump."""
        places = [at for at, word in enumerate(self.words) if _code(word) in ("M97", "M98", "M99", "G65")]
        if not places or not self._family_allows("macro"):
            return
        if len(places) > 1 or self.jump is not None:
            self._problem_at(self.words[places[-1]], "two jumps in one block: put each in a line of its own")
            self._give_up(self.words[places[-1]].column)
            return
        call = self.words[places[0]]
        code = _code(call)
        after = self.words[places[0] + 1 :] if code == "G65" else self.words
        taken = [w for w in after if w.letter in "PL"] if code != "M99" else [w for w in after if w.letter == "P"]
        letters = [w.letter for w in taken]
        if code != "M99" and "P" not in letters:
            self._problem_at(call, f"{code} names no program: P is missing")
        for letter in "PL":
            if letters.count(letter) > 1:
                self._problem_at(call, f"{code} with more than one {letter}")
        label = next((w.value for w in taken if w.letter == "P"), None)
        repeats = next((w.value for w in taken if w.letter == "L"), None)
        arguments: tuple[tuple[int, Value], ...] = ()
        if code == "G65":
            arguments = self._arguments([w for w in after if w.letter not in "PL"])
            self.words = self.words[: places[0]]
        else:
            self.words = [w for w in self.words if w is not call and w not in taken]
        verb = {"M99": "return", "G65": "macro-call"}.get(code, "call")
        column = min(word.column for word in (call, *taken))
        self.jump = Jump(verb, label, None, arguments, repeats, None, code == "M97", column)

    def _arguments(self, words: list[Word]) -> tuple[tuple[int, Value], ...]:
        passed: dict[int, Value] = {}
        letters: list[str] = []
        triple, latest = 0, "H"
        for word in words:
            letter = word.letter
            target = ARGUMENTS.get(letter)
            if target is None:
                self._problem_at(word, f"{letter} cannot pass a value to a macro")
                continue
            if letter in "IJK":
                triple += letter <= latest
                if triple != letters.count(letter):
                    self._problem_at(
                        word, "I, J and K of a call must stand in this order: controls sort others differently"
                    )
                latest = letter
                target += 3 * triple
            elif letter in letters:
                self._problem_at(word, f"{letter} is passed twice")
            letters.append(letter)
            if triple >= MOST_TRIPLES:
                self._problem_at(word, f"more than {MOST_TRIPLES} sets of I J K")
            if (
                letter in SIZED_ARGUMENTS
                and not word.pointed
                and self.control.answer("whole_numbers") == "least increment"
            ):
                self._problem_at(
                    word, f"{word.text} has no point: what it passes hangs on the least increment of {letter}"
                )
            passed.pop(target, None)
            passed[target] = word.value
        return tuple(passed.items())

    def _problem_at(self, word: Word, what: str) -> None:
        self.problems.append(Problem(self.line, word.column, word.text, what))

    def _letters(self) -> None:
        """Words whose letter is not in the language."""
        for word in self.words:
            if word.letter not in WORD_LETTERS:
                what = f"{word.letter} is no word of the language"
                if word.letter == "E":
                    what += "; numbers have no exponent form"
                self._problem_at(word, what)
        self.words = [word for word in self.words if word.letter in WORD_LETTERS]


def _code(word: Word) -> str:
    """`M98` for a word M98, M098 or M98.0; empty for a value that has to be worked out."""
    if not isinstance(word.value, float) or word.letter not in "GM" or abs(word.value) > 1e6:
        return ""
    nearest = round(word.value)
    return f"{word.letter}{nearest}" if abs(word.value - nearest) <= WHOLE_TOLERANCE else ""


def _what_is(text: str) -> str:
    first = text[0]
    if first in _MINUS_LIKE:
        return f"not the minus sign of the keyboard but the character U+{ord(first):04X}: write '-'"
    if not first.isascii() or not first.isprintable():
        return f"the character U+{ord(first):04X} is not in the language"
    if first in "0123456789+-.":
        return "a number without a letter before it, or two numbers run together"
    if first == "(":
        return "a comment stands inside a number"
    if first == ")":
        return "a ')' closes no comment"
    if first == "/":
        return "'/' for block delete may stand only at the start of the block"
    if first == "%":
        return "'%' must stand alone on its line"
    return f"'{first}' is not in the language here"
