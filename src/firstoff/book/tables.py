"""The tables of the book, as its newest format has them.

`entry` is the book: a chain of lines that are only ever added, each with its whole content as canonical JSON and the stamp of the line
before. `content` holds what is long and often the same (snapshots of facts, records), each by its own stamp. All other tables are an
index that `rows` makes of entries and contents, so that they can be made again, checked, and queried by anyone.
"""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

FORMAT = "0001"
"""The newest format, the last of the numbered migrations."""
KINDS = ("facts", "trial", "examination", "run")
ANSWERS = ("clear", "care", "unjudged", "stop")
HOW = ("first", "set", "by hand")
"""How a fact came to be what it is: seen for the first time, changed through Firstoff, changed in the file."""
OUTCOMES = ("good", "rang", "size", "broke", "stopped", "other")

metadata = MetaData()


def _says(what: str) -> dict[str, str]:
    """What a table or a column is, for docs/book.md."""
    return {"says": what}


def _text(name: str, says: str, **more: bool) -> Column[str]:
    return Column(name, Text, nullable=more.get("null", False), unique=more.get("unique"), info=_says(says))


def _number(name: str, says: str, check: str = "", *, whole: bool = False, null: bool = True) -> Column[float]:
    """`check` is the condition and its name, with a colon between."""
    condition, _, title = check.partition(": ")
    guards = [CheckConstraint(condition, name=title)] if check else []
    return Column(name, Integer if whole else Float(53), *guards, nullable=null, info=_says(says))


def _one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def _stamp(column: str) -> CheckConstraint:
    return CheckConstraint(f"length({column}) = 64", name=f"{column}_is_stamp")


def _key(name: str, says: str) -> Column[str]:
    return Column(name, Text, primary_key=True, info=_says(says))


def _entry(parent: str = "entry.number") -> Column[int]:
    return Column("entry", Integer, ForeignKey(parent), primary_key=True, nullable=False)


def _content(name: str, says: str) -> Column[str]:
    return Column(name, Text, ForeignKey("content.sha256"), nullable=False, info=_says(says))


entry = Table(
    "entry",
    metadata,
    Column(
        "number",
        Integer,
        CheckConstraint("number >= 1", name="number_from_1"),
        primary_key=True,
        info=_says("from 1, without gaps"),
    ),
    _text("at", "when: ISO 8601, UTC, to the second"),
    _text("shop", "the machine's name"),
    _text("kind", "facts, trial, examination or run"),
    _text("who", "the account it was written from"),
    _text("why", "the reason given, or empty"),
    _text("body", "all that it says, as canonical JSON"),
    _text(
        "before", "stamp of the entry before; empty for the first", unique=True
    ),  # no two entries follow the same one
    _text("sha256", "its own stamp", unique=True),
    _one_of("kind", KINDS),
    _stamp("sha256"),
    CheckConstraint("(number = 1) = (before = '')", name="only_the_first_follows_none"),
    info=_says("The chain."),
)
content = Table(
    "content",
    metadata,
    _key("sha256", "stamp of the text"),
    Column("body", LargeBinary, nullable=False, info=_says("the text, UTF-8, compressed (zlib)")),
    _stamp("sha256"),
    info=_says("What is long and often the same: facts of a day, records of examinations."),
)
file_seen = Table(
    "file_seen",
    metadata,
    _entry(),
    _key("file", "a text file of the shop, relative to its folder"),
    _text("sha256", "stamp of what it held; empty where it was gone"),
    info=_says("The shop's files as they were when an entry was made; how an edit by hand is noticed."),
)
fact_change = Table(
    "fact_change",
    metadata,
    _entry(),
    _key("job", "the job whose fact it is; empty for the shop's own"),
    _key("path", "path of the fact (docs/facts.md)"),
    _text("how", "first (seen for the first time), set (through Firstoff) or by hand (in the file)"),
    _text("old", "what it was, as JSON; null where it is new", null=True),
    _text("new", "what it is; null where it was taken out", null=True),
    _one_of("how", HOW),
    CheckConstraint("old IS NOT NULL OR new IS NOT NULL", name="something_changed"),
    Index("fact_change_by_path", "job", "path", "entry"),
    info=_says("What each fact was and became. Measured tool lengths are the changes of `tools.NAME.LF`."),
)
trial = Table(
    "trial",
    metadata,
    _entry(),
    _text("path", "the fact that was measured"),
    _text("unit", "unit of the readings"),
    _text("readings", "a JSON list"),
    _number("mean", "their mean", null=False),
    _number("u", "its standard uncertainty, s/√n (JCGM 100:2008, 4.2.3)", "u >= 0: u_not_negative", null=False),
    _number("df", "degrees of freedom, n − 1"),
    Index("trial_by_path", "path", "entry"),
    info=_says("Readings that became a fact."),
)
examination = Table(
    "examination",
    metadata,
    _entry(),
    _text("job", "name of the job, or file of a bare program"),
    _text("argument", "what `examine` is given to do it again"),
    _text("program_file", "the program"),
    _text("program_sha256", "its stamp"),
    _text("verdict", "the worst of the four: clear, care, unjudged or stop"),
    *(_text(name, f"answer for the {name}") for name in ("machine", "tool", "part", "time")),
    _number("time_s", "how long the program takes, s; null where a fact is missing", "time_s >= 0: time_not_negative"),
    _content("leaned", "content: the facts it leaned on, and what they said"),
    _content("present", "content: paths of all facts that were there"),
    _content("record", "content: the published record (docs/schema/examination-1.json)"),
    *(_one_of(name, ANSWERS) for name in ("verdict", "machine", "tool", "part", "time")),
    Index("examination_by_job", "job", "entry"),
    info=_says("What was examined."),
)
answer = Table(
    "answer",
    metadata,
    _entry("examination.entry"),
    _key("question", "id of the question"),
    _text("risk", "machine, tool, part or time"),
    _text("answer", "clear, care, unjudged or stop"),
    _number("chance", "that any place exceeds; null for what is counted", "chance BETWEEN 0 AND 1: chance_is_one"),
    _number("demand", "at the worst place"),
    _number("capacity", "at the worst place"),
    _text("unit", "unit of both"),
    _number("line", "line of the worst place", whole=True),
    _one_of("answer", ANSWERS),
    info=_says("The answers of each examination."),
)
run = Table(
    "run",
    metadata,
    _entry(),
    _text("job", "name of the job"),
    _text("program_sha256", "stamp of the program that ran"),
    _text("outcome", "good, rang, size, broke, stopped or other: the worst that the note says"),
    _text("note", "the note, word for word"),
    _text("tool", "the tool that it names", null=True),
    _number("line", "the line that it names", "line >= 1: line_from_1", whole=True),
    _number("off_mm", "size as made less size as drawn, mm"),
    _text("feature", "the feature whose size it is", null=True),
    _content("facts", "content: all that was known of job and shop on that day"),
    _one_of("outcome", OUTCOMES),
    Index("run_by_job", "job", "entry"),
    info=_says("What was noted after runs."),
)
run_tool = Table(
    "run_tool",
    metadata,
    _entry("run.entry"),
    _key("tool", "name of the tool"),
    _number(
        "minutes",
        "minutes that it cut, as the program's newest examination reckoned",
        "minutes >= 0: minutes_not_negative",
        null=False,
    ),
    info=_says("How long each tool cut in a run."),
)
INDEX = (file_seen, fact_change, trial, examination, answer, run, run_tool)
"""The tables that follow from entries and contents, parents first."""
