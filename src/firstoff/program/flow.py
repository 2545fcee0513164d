"""Which line comes next: calls, returns, jumps, branches and loops of both families.

The driver of a reading owns the state of the machine; the flow owns the way through the text:

    flow = Flow(sources, control, problems)          # problems: the list that the reading collects
    parameters = Parameters.of(control)
    cursor = flow.start()
    while cursor is not None:
        block = flow.block(cursor)                   # each line is taken apart once, its problems are reported once
        ...                                          # the driver acts on block.words and block.assignments
        if the block ends the program (M2, M30): break
        cursor = flow.after(block, cursor, parameters)

- Lines that the byte kernel ran are skipped with ``cursor = flow.run_to(cursor, line)``. Only plain lines may be run so: every
  line with a jump, an O, a % or an N that something jumps to is fine as a start, never as the inside of a run except that N.
- A block that block delete skips goes through ``flow.skip(cursor)`` instead of `after`.
- `flow.lost` becomes True where the way on, or what an unsupplied program does, is not known: every state of the machine is
  unknown from there. The problem says so (`judged_again_from` = 0). The driver reads on to find further problems.
- `flow.report(cursor, column, text, what, kind, fact)` adds a problem at a cursor, with the line of the main text.
- `flow.line_of(cursor)` is the line of the main text that a move made there belongs to.
- At the end `flow.ended_by` is ``M99``, ``%``, ``text end``, or ```` where the flow was cut short by a problem.

Everything here is custom, not the report (reference nc-language 12): the sources are builders' manuals, limits from memory.
"""

from __future__ import annotations

from firstoff.program.blocks import Block, Jump, Value
from firstoff.program.calls import DEEPEST, MOST_REPEATS, Cursor, Frame, find_program
from firstoff.program.expressions import assignment_target, evaluate
from firstoff.program.language import parse_line
from firstoff.program.moves import DEPENDS, FAULT, NOTE, Problem
from firstoff.program.parameters import Answers, CannotEvaluate, Parameters, whole
from firstoff.program.shape import Shape, Span, shape_of
from firstoff.program.sources import NotSupplied, Source, Sources

MOST_STEPS = 2_000_000
"""Lines that Python interprets, about 15 µs each: half a minute. A real macro loop makes thousands, a runaway one never ends."""
MOST_LINES = 10_000_000
"""Lines run in all once something has jumped back: more moves than two gigabytes hold."""
KEPT_BLOCKS = 200_000
"""Blocks remembered for the next pass: more is no loop but a long text."""


class _LostError(Exception):
    """The way on is not known; carries what to report."""

    def __init__(self, what: str, kind: str = FAULT, fact: str = "", ends: bool = False) -> None:
        self.what, self.kind, self.fact, self.ends = what, kind, fact, ends


class Flow:
    """The way through one program; see the head of this module."""

    def __init__(self, sources: Sources, control: Answers, problems: list[Problem]) -> None:
        self.sources = sources
        self.lost = False
        self.ended_by = ""
        self._control = control
        self._problems = problems
        self._frames = [Frame("main", "", Cursor(0, 1), Cursor(0, 1))]
        self._blocks: dict[Cursor, Block] = {}
        self._reported: set[tuple[object, ...]] = set()
        self._shapes: dict[int, Shape] = {}
        self._opening: dict[int, int] = {}
        self._used = {0}
        self._steps = 0
        self._lines = 0
        self._turns = 0
        self._seen: dict[Cursor, tuple[int, int]] = {}
        """Backward jump -> (parameter version, turns) when it was last taken."""

    # --- what the driver asks ---

    def start(self) -> Cursor | None:
        """The first line, None for an empty text."""
        return self._at(Cursor(0, 1))

    def block(self, cursor: Cursor) -> Block:
        """The line at `cursor` taken apart; its problems are reported the first time."""
        known = self._blocks.get(cursor)
        if known is not None:
            return known
        block, problems = parse_line(self.text_of(cursor), cursor.line, self._control)
        unread = block.jump is not None and block.jump.verb == "unknown"
        self.lost = self.lost or unread
        for problem in problems:
            never = 0 if unread and problem.kind == FAULT else None
            self.report(cursor, problem.column, problem.text, problem.what, problem.kind, problem.fact, never)
        if len(self._blocks) >= KEPT_BLOCKS:
            self._blocks.clear()
        self._blocks[cursor] = block
        return block

    def text_of(self, cursor: Cursor) -> str:
        """The line's text."""
        return self._source(cursor).lines[cursor.line - 1]

    def line_of(self, cursor: Cursor) -> int:
        """Line of the main text: of the call, where `cursor` stands in another file."""
        if cursor.source == 0:
            return cursor.line
        return next((frame.call.line for frame in self._frames if frame.first.source != 0), 1)

    @property
    def depth(self) -> int:
        """Calls that are running; 0 in the main program."""
        return len(self._frames) - 1

    def report(self, cursor: Cursor, column: int, text: str, what: str, kind: str = FAULT, fact: str = "", judged_again_from: int | None = None) -> None:  # fmt: skip
        """Add a problem at `cursor`, once however often the program passes there."""
        key = (cursor, column, what)
        if key in self._reported:
            return
        self._reported.add(key)
        if cursor.source != 0:
            what = f"{self._source(cursor).name} line {cursor.line}: {what}"
        self._problems.append(Problem(self.line_of(cursor), column, text, what, kind, fact, judged_again_from))

    def run_to(self, cursor: Cursor, line: int) -> Cursor | None:
        """The driver ran the plain lines from `cursor` up to, not including, `line`."""
        self._lines += max(0, line - cursor.line)
        return self._next(cursor, line)

    def skip(self, cursor: Cursor) -> Cursor | None:
        """The line after a block that is not run."""
        return self._next(cursor, cursor.line + 1)

    def after(self, block: Block, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        """The line after `block`; None at the end of the program, or where a problem ends it."""
        self._steps += 1
        self._lines += 1
        if block.jump is None and not block.percent:
            return self._next(cursor, cursor.line + 1)
        if block.jump is None:
            return self._percent(cursor)
        try:
            return self._jump(block.jump, cursor, parameters)
        except CannotEvaluate as refusal:
            self._lose(cursor, block.jump, refusal.what, DEPENDS if refusal.fact else FAULT, refusal.fact)
        except NotSupplied as refusal:
            self._lose(cursor, block.jump, refusal.what)
        except _LostError as refusal:
            self._lose(cursor, block.jump, refusal.what, refusal.kind, refusal.fact)
            if refusal.ends:
                return None
        return self._past(block.jump, cursor)

    # --- the ways on ---

    def _jump(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        verb = jump.verb
        if verb in ("call", "macro-call"):
            return self._call(jump, cursor, parameters)
        if verb == "o-call":
            return self._o_call(jump, cursor, parameters)
        if verb in ("return", "endsub"):
            return self._return(jump, cursor, parameters)
        if verb == "program":
            return self._program(cursor)
        if verb == "unknown":
            return self._next(cursor, cursor.line + 1)
        if verb == "goto":
            return self._goto(jump.label, cursor, parameters)
        if verb == "if-goto":
            return self._if_goto(jump, cursor, parameters)
        if verb == "if-then":
            if self._true(jump, parameters) and jump.then is not None:
                value = evaluate(jump.then.value, parameters)
                parameters.assign(assignment_target(jump.then.target, parameters), value)
            return self._next(cursor, cursor.line + 1)
        return self._in_span(jump, cursor, parameters)

    def _in_span(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        """Jumps whose way on hangs on where the matching lines stand."""
        verb, line = jump.verb, cursor.line
        if verb in ("break", "continue"):
            return self._leave_loop(jump, cursor, parameters)
        span = self._span(cursor, jump)
        if verb in ("elseif", "else"):
            return self._next(cursor, span.close + 1)  # reached from above: the branch before it was taken
        if verb == "sub":
            return self._next(cursor, span.close + 1)  # a definition, not a call
        if verb == "if":
            return self._branch(jump, span, cursor, parameters)
        if verb == "repeat":
            return self._begin_repeat(jump, span, cursor, parameters)
        if verb == "endrepeat":
            return self._end_repeat(span, cursor, parameters)
        if verb == "while" and span.close == line and span.open != line:  # the end of a do
            return self._back(cursor, span.open + 1, parameters) if self._true(jump, parameters) else self._next(cursor, line + 1)  # fmt: skip
        if verb == "while":
            return self._next(cursor, line + 1 if self._true(jump, parameters) else span.close + 1)
        if verb == "endwhile":
            return self._back(cursor, span.open, parameters)
        return self._next(cursor, line + 1)  # do, endif

    def _true(self, jump: Jump, parameters: Parameters) -> bool:
        value = evaluate(jump.condition, parameters) if jump.condition is not None else None
        if value is None:
            raise CannotEvaluate("the condition is undefined")
        return value != 0.0

    def _branch(self, jump: Jump, span: Span, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        if self._true(jump, parameters):
            return self._next(cursor, cursor.line + 1)
        for line in span.middles:
            middle = self.block(Cursor(cursor.source, line)).jump
            if middle is None or middle.verb == "else" or self._true(middle, parameters):
                return self._next(cursor, line + 1)
        return self._next(cursor, span.close + 1)

    def _begin_repeat(self, jump: Jump, span: Span, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        value = evaluate(jump.condition, parameters) if jump.condition is not None else None
        count = whole(value or 0.0, "the number of repeats")
        if count < 1:
            return self._next(cursor, span.close + 1)
        self._frames[-1].counts[cursor.line] = count - 1
        self._turns += 1
        return self._next(cursor, cursor.line + 1)

    def _end_repeat(self, span: Span, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        counts = self._frames[-1].counts
        left = counts.get(span.open, 0)
        self._turns += 1
        if left == 0:
            counts.pop(span.open, None)
            return self._next(cursor, cursor.line + 1)
        counts[span.open] = left - 1
        return self._back(cursor, span.open + 1, parameters)

    def _leave_loop(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        span = self._shape(cursor).loop_around(cursor.line, jump.label)
        if span is None:
            raise _LostError(f"{jump.verb} stands in no loop of this name")
        if jump.verb == "break":
            self._frames[-1].counts.pop(span.open, None)
            return self._next(cursor, span.close + 1)
        if span.verb == "while":
            return self._back(cursor, span.open, parameters)
        return self._next(cursor, span.close)  # the end of a do or a repeat decides

    def _goto(self, label: Value | str | None, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        if label is None or isinstance(label, str):
            raise _LostError("the jump names no block")
        value = evaluate(label, parameters)
        if value is None:
            raise CannotEvaluate("the block to jump to is undefined")
        number = whole(value, "a block number")
        return self._back(cursor, self._numbered_line(number, cursor), parameters)

    def _if_goto(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        if self._true(jump, parameters):
            return self._goto(jump.label, cursor, parameters)
        if isinstance(jump.label, float) and not self._numbered(round(jump.label), cursor):
            what = f"there is no block N{jump.label:g} to jump to: if the condition ever holds, the control stops here with an alarm"
            self.report(cursor, jump.column, self._written(cursor, jump), what, NOTE)
        return self._next(cursor, cursor.line + 1)

    def _numbered(self, number: int, cursor: Cursor) -> list[int]:
        """Lines of the running program that carry N`number`."""
        shape = self._shape(cursor)
        begin, end = shape.program_around(cursor.line)
        return [line for line in shape.numbered(number) if begin <= line < end]

    def _numbered_line(self, number: int, cursor: Cursor) -> int:
        lines = self._numbered(number, cursor)
        if not lines:
            raise _LostError(f"there is no block N{number} in this program", ends=True)
        if len(lines) > 1:
            places = " and ".join(str(line) for line in lines)
            raise _LostError(
                f"N{number} stands more than once (lines {places}): which one a jump finds is chance", ends=True
            )
        target = lines[0]
        span = self._shape(cursor).entered(cursor.line, target)
        if span is not None:
            raise _LostError(
                f"N{number} stands inside the loop that begins in line {span.open}: no jump may lead into a loop"
            )
        return target

    # --- calls ---

    def _call(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        number = self._whole(jump.label, "the program number", parameters)
        repeats = 1 if jump.repeats is None else self._whole(jump.repeats, "the number of repeats L", parameters)
        if jump.same_file:
            first = Cursor(cursor.source, self._numbered_line(number, cursor))
        else:
            found = find_program(
                self.sources, number, self._source(cursor), jump.verb == "call" and jump.repeats is None
            )
            if found.number != number:
                what = f"P{number} was read as {found.repeats} times O{found.number}, because no O{number} is supplied"
                self.report(cursor, jump.column, self._written(cursor, jump), what, NOTE)
                number, repeats = found.number, found.repeats
            self._note_file(found.entry.source, f"O{number}", cursor, jump)
            first = Cursor(found.entry.source.number, found.entry.line)
        if not 1 <= repeats <= MOST_REPEATS:
            raise _LostError(f"L{repeats}: a call is repeated 1 to {MOST_REPEATS} times")
        name = f"N{number}" if jump.same_file else f"O{number}"
        self._check_depth(jump.verb, name)
        if jump.verb == "macro-call":
            parameters.enter({n: evaluate(value, parameters) for n, value in jump.arguments}, "macro")
        return self._enter(Frame(jump.verb, name, cursor, first, repeats - 1))

    def _o_call(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        label = jump.label
        name = label if isinstance(label, str) else str(self._whole(label, "the program number", parameters))
        source = self._source(cursor)
        lines = self._shape(cursor).subs(name)
        if not lines and source is not self.sources.main:
            source = self.sources.main
            lines = self._shape(Cursor(0, 1)).subs(name)
        if not lines:
            source = self.sources.named(name)
            lines = self._shape(Cursor(source.number, 1)).subs(name)
            self._note_file(source, f"o{name}", cursor, jump)
        if len(lines) != 1:
            raise NotSupplied(f"o{name} sub stands {len(lines)} times in {source.name}: it must stand once")
        self._check_depth("o-call", f"o{name}")
        parameters.enter({n: evaluate(value, parameters) for n, value in jump.arguments}, "o-words")
        return self._enter(Frame("o-call", name, cursor, Cursor(source.number, lines[0] + 1)))

    def _enter(self, frame: Frame) -> Cursor | None:
        self._frames.append(frame)
        self._turns += 1
        return self._next(frame.first, frame.first.line)

    def _return(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        frame = self._frames[-1]
        if frame.verb == "main" or (frame.verb == "o-call") != isinstance(jump.label, str):
            return self._return_in_main(jump, cursor, parameters)
        if frame.verb == "o-call" and jump.condition is not None:
            parameters.set_named("_value", evaluate(jump.condition, parameters))
        self._turns += 1
        if frame.left > 0:
            if jump.label is not None:
                raise _LostError(
                    "M99 P in a program that is to be repeated: controls differ in what happens to the repeats"
                )
            frame.left -= 1
            return self._next(cursor, frame.first.line, frame.first.source)
        target = None if frame.verb == "o-call" else jump.label
        number = None if target is None else self._whole(target, "a block number", parameters)
        self._frames.pop()
        if frame.verb != "call":
            parameters.leave()
        line = frame.call.line + 1 if number is None else self._numbered_line(number, frame.call)
        return self._next(frame.call, line)

    def _return_in_main(self, jump: Jump, cursor: Cursor, parameters: Parameters) -> Cursor | None:
        if isinstance(jump.label, str):
            raise _LostError(f"{jump.verb} stands outside every sub that was called")
        if self._frames[-1].verb == "o-call":
            raise _LostError("M99 in a sub of the other family: it ends with endsub")
        if jump.label is not None:
            return self._goto(jump.label, cursor, parameters)
        self.ended_by = "M99"
        raise _LostError(
            "M99 in the main program starts it again, for ever: one pass was read. M30 ends a program", ends=True
        )

    def _program(self, cursor: Cursor) -> Cursor | None:
        frame = self._frames[-1]
        programs = self.sources.programs(self._source(cursor))
        first = frame.first.line if frame.verb != "main" else (programs[0][1] if programs else cursor.line)
        if cursor.line != first:
            raise _LostError(
                "the program before it runs on into this one: an M30, or an M99 of a subprogram, is missing", ends=True
            )
        return self._next(cursor, cursor.line + 1)

    def _percent(self, cursor: Cursor) -> Cursor | None:
        lines = self._source(cursor).lines
        opening = self._opening.get(cursor.source)
        if opening is None:
            opening = next((at for at, text in enumerate(lines, 1) if text.strip()), 1)
            self._opening[cursor.source] = opening
        if cursor.line == opening:
            return self._next(cursor, cursor.line + 1)
        self._over(cursor, "%")
        return None

    # --- steps ---

    def _next(self, cursor: Cursor, line: int, source: int | None = None) -> Cursor | None:
        if self._steps > MOST_STEPS or ((self._seen or self._turns) and self._lines > MOST_LINES):
            what = f"more than {min(self._lines, MOST_STEPS)} lines were run without an end: the reading stops here"
            self._cut(cursor, what)
            return None
        return self._at(Cursor(cursor.source if source is None else source, line))

    def _at(self, cursor: Cursor) -> Cursor | None:
        if cursor.line <= len(self._source(cursor).lines):
            return cursor
        self._over(Cursor(cursor.source, max(1, len(self._source(cursor).lines))), "text end")
        return None

    def _over(self, cursor: Cursor, by: str) -> None:
        """The text is over: the end of the main program, a fault in a called one."""
        self.ended_by = by
        frame = self._frames[-1]
        if frame.verb != "main":
            self._cut(cursor, f"{frame.label} does not return: its text ends without M99 (or endsub)")

    def _back(self, cursor: Cursor, line: int, parameters: Parameters) -> Cursor | None:
        """Go to `line`; going back twice with nothing changed in between means going back for ever."""
        if line <= cursor.line:
            now = (parameters.version, self._turns)
            if self._seen.get(cursor) == now:
                raise _LostError(f"this goes back to line {line} for ever: nothing changes in between", ends=True)
            self._seen[cursor] = now
        return self._next(cursor, line)

    def _past(self, jump: Jump, cursor: Cursor) -> Cursor | None:
        """The line to read on with after the way was lost: behind a loop or branch, else the next."""
        if jump.verb in ("while", "repeat", "if", "sub"):
            span = self._shape(cursor).span_at(cursor.line)
            if span is not None and span.open == cursor.line:
                return self._next(cursor, span.close + 1)
        return self._next(cursor, cursor.line + 1)

    # --- small parts ---

    def _source(self, cursor: Cursor) -> Source:
        return self.sources.all[cursor.source]

    def _shape(self, cursor: Cursor) -> Shape:
        shape = self._shapes.get(cursor.source)
        if shape is None:
            source = self._source(cursor)
            shape = shape_of(source.lines, self.sources.programs(source), self._control)
            self._shapes[cursor.source] = shape
        return shape

    def _span(self, cursor: Cursor, jump: Jump) -> Span:
        span = self._shape(cursor).span_at(cursor.line)
        if span is None:
            raise _LostError(
                f"{self._written(cursor, jump)}: its other end is missing, or loops cross each other", ends=True
            )
        return span

    def _whole(self, value: Value | str | None, what: str, parameters: Parameters) -> int:
        if value is None or isinstance(value, str):
            raise _LostError(f"{what} is missing")
        worked = evaluate(value, parameters)
        if worked is None:
            raise CannotEvaluate(f"{what} is undefined")
        return whole(worked, what)

    def _check_depth(self, verb: str, name: str) -> None:
        deep = sum(1 for frame in self._frames if frame.verb == verb)
        if deep >= DEEPEST[verb]:
            again = " (it calls itself)" if any(frame.label == name for frame in self._frames) else ""
            raise _LostError(
                f"{name} is called from more than {DEEPEST[verb]} calls within each other{again}", ends=True
            )

    def _note_file(self, source: Source, name: str, cursor: Cursor, jump: Jump) -> None:
        if source.number not in self._used:
            self._used.add(source.number)
            what = f"{name} was read from the file {source.name}: make sure that the control holds the same text"
            self.report(cursor, jump.column, self._written(cursor, jump), what, NOTE)

    def _written(self, cursor: Cursor, jump: Jump) -> str:
        return self.text_of(cursor)[jump.column - 1 :].split("(")[0].rstrip("; \t\r")

    def _lose(self, cursor: Cursor, jump: Jump, what: str, kind: str = FAULT, fact: str = "") -> None:
        self.lost = True
        self.report(cursor, jump.column, self._written(cursor, jump), what, kind, fact, judged_again_from=0)

    def _cut(self, cursor: Cursor, what: str) -> None:
        self.lost = True
        self.ended_by = self.ended_by or ""
        self.report(cursor, 1, self.text_of(cursor), what, FAULT, "", judged_again_from=0)
