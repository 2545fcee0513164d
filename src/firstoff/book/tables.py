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


def _one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def _stamp(column: str) -> CheckConstraint:
    return CheckConstraint(f"length({column}) = 64", name=f"{column}_is_stamp")


def _entry(primary: bool = True) -> Column[int]:
    return Column("entry", Integer, ForeignKey("entry.number"), primary_key=primary, nullable=False)


def _content(name: str) -> Column[str]:
    return Column(name, Text, ForeignKey("content.sha256"), nullable=False)


entry = Table(
    "entry",
    metadata,
    Column("number", Integer, CheckConstraint("number >= 1", name="number_from_1"), primary_key=True),
    Column("at", Text, nullable=False),  # ISO 8601, UTC, to the second
    Column("shop", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("body", Text, nullable=False),
    Column("before", Text, nullable=False, unique=True),  # no two entries follow the same one
    Column("sha256", Text, nullable=False, unique=True),
    _one_of("kind", KINDS),
    _stamp("sha256"),
    CheckConstraint("(number = 1) = (before = '')", name="only_the_first_follows_none"),
)
content = Table(
    "content",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("body", LargeBinary, nullable=False),  # zlib of UTF-8 text
    _stamp("sha256"),
)
file_seen = Table(
    "file_seen",
    metadata,
    _entry(),
    Column("file", Text, primary_key=True),  # relative to the shop folder
    Column("sha256", Text, nullable=False),  # empty where the file is gone
)
fact_change = Table(
    "fact_change",
    metadata,
    _entry(),
    Column("job", Text, primary_key=True),  # empty for the shop's own facts
    Column("path", Text, primary_key=True),
    Column("how", Text, nullable=False),
    Column("old", Text),
    Column("new", Text),
    _one_of("how", HOW),
    CheckConstraint("old IS NOT NULL OR new IS NOT NULL", name="something_changed"),
    Index("fact_change_by_path", "job", "path", "entry"),
)
trial = Table(
    "trial",
    metadata,
    _entry(),
    Column("path", Text, nullable=False),  # the fact that was measured
    Column("unit", Text, nullable=False),
    Column("readings", Text, nullable=False),  # JSON list, in `unit`
    Column("mean", Float(53), nullable=False),
    Column("u", Float(53), CheckConstraint("u >= 0", name="u_not_negative"), nullable=False),
    Column("df", Float(53)),
    Index("trial_by_path", "path", "entry"),
)
examination = Table(
    "examination",
    metadata,
    _entry(),
    Column("job", Text, nullable=False),
    Column("argument", Text, nullable=False),
    Column("program_file", Text, nullable=False),
    Column("program_sha256", Text, nullable=False),
    *(Column(name, Text, nullable=False) for name in ("verdict", "machine", "tool", "part", "time")),
    Column("time_s", Float(53), CheckConstraint("time_s >= 0", name="time_not_negative")),
    _content("leaned"),
    _content("present"),
    _content("record"),
    *(_one_of(name, ANSWERS) for name in ("verdict", "machine", "tool", "part", "time")),
    Index("examination_by_job", "job", "entry"),
)
answer = Table(
    "answer",
    metadata,
    Column("entry", Integer, ForeignKey("examination.entry"), primary_key=True),
    Column("question", Text, primary_key=True),
    Column("risk", Text, nullable=False),
    Column("answer", Text, nullable=False),
    Column("chance", Float(53), CheckConstraint("chance BETWEEN 0 AND 1", name="chance_is_one")),
    Column("demand", Float(53)),
    Column("capacity", Float(53)),
    Column("unit", Text, nullable=False),
    Column("line", Integer),
    _one_of("answer", ANSWERS),
)
run = Table(
    "run",
    metadata,
    _entry(),
    Column("job", Text, nullable=False),
    Column("program_sha256", Text, nullable=False),
    Column("outcome", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("tool", Text),  # the tool that a note is about
    Column("line", Integer, CheckConstraint("line >= 1", name="line_from_1")),
    Column("off_mm", Float(53)),
    Column("feature", Text),
    _content("facts"),  # all that was known of job and shop on that day
    _one_of("outcome", OUTCOMES),
    Index("run_by_job", "job", "entry"),
)
run_tool = Table(
    "run_tool",
    metadata,
    Column("entry", Integer, ForeignKey("run.entry"), primary_key=True),
    Column("tool", Text, primary_key=True),
    Column("minutes", Float(53), CheckConstraint("minutes >= 0", name="minutes_not_negative"), nullable=False),
)
INDEX = (file_seen, fact_change, trial, examination, answer, run, run_tool)
"""The tables that follow from entries and contents, parents first."""
