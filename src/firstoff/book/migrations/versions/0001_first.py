"""The first format. Frozen: books of it exist."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

TABLES = (
    "entry", "content", "file_seen", "fact_change", "trial", "examination", "answer", "run", "run_tool",
)  # fmt: skip
_ANSWERS = "('clear', 'care', 'unjudged', 'stop')"


def _text(name: str, *, null: bool = False, unique: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=null, unique=unique)


def _entry(parent: str = "entry.number") -> sa.Column[Any]:
    return sa.Column("entry", sa.Integer, sa.ForeignKey(parent), primary_key=True, nullable=False)


def _check(sql: str, name: str) -> sa.CheckConstraint:
    return sa.CheckConstraint(sql, name=name)


def upgrade() -> None:
    op.create_table(
        "entry",
        sa.Column("number", sa.Integer, _check("number >= 1", "number_from_1"), primary_key=True),
        *(_text(name) for name in ("at", "shop", "kind", "who", "why", "body")),
        _text("before", unique=True),
        _text("sha256", unique=True),
        _check("kind IN ('facts', 'trial', 'examination', 'run')", "kind_known"),
        _check("length(sha256) = 64", "sha256_is_stamp"),
        _check("(number = 1) = (before = '')", "only_the_first_follows_none"),
    )
    op.create_table(
        "content",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("body", sa.LargeBinary, nullable=False),
        _check("length(sha256) = 64", "sha256_is_stamp"),
    )
    op.create_table("file_seen", _entry(), sa.Column("file", sa.Text, primary_key=True), _text("sha256"))
    _facts()
    _examinations()
    _runs()
    _only_ever_added_to()


def _facts() -> None:
    op.create_table(
        "fact_change",
        _entry(),
        sa.Column("job", sa.Text, primary_key=True),
        sa.Column("path", sa.Text, primary_key=True),
        _text("how"),
        _text("old", null=True),
        _text("new", null=True),
        _check("how IN ('first', 'set', 'by hand')", "how_known"),
        _check("old IS NOT NULL OR new IS NOT NULL", "something_changed"),
    )
    op.create_index("fact_change_by_path", "fact_change", ["job", "path", "entry"])
    op.create_table(
        "trial",
        _entry(),
        *(_text(name) for name in ("path", "unit", "readings")),
        sa.Column("mean", sa.Float(53), nullable=False),
        sa.Column("u", sa.Float(53), _check("u >= 0", "u_not_negative"), nullable=False),
        sa.Column("df", sa.Float(53)),
    )
    op.create_index("trial_by_path", "trial", ["path", "entry"])


def _content(name: str) -> sa.Column[Any]:
    return sa.Column(name, sa.Text, sa.ForeignKey("content.sha256"), nullable=False)


def _examinations() -> None:
    risks = ("verdict", "machine", "tool", "part", "time")
    op.create_table(
        "examination",
        _entry(),
        *(_text(name) for name in ("job", "argument", "program_file", "program_sha256", *risks)),
        sa.Column("time_s", sa.Float(53), _check("time_s >= 0", "time_not_negative")),
        *(_content(name) for name in ("leaned", "present", "record")),
        *(_check(f"{name} IN {_ANSWERS}", f"{name}_known") for name in risks),
    )
    op.create_index("examination_by_job", "examination", ["job", "entry"])
    op.create_table(
        "answer",
        _entry("examination.entry"),
        sa.Column("question", sa.Text, primary_key=True),
        _text("risk"),
        _text("answer"),
        sa.Column("chance", sa.Float(53), _check("chance BETWEEN 0 AND 1", "chance_is_one")),
        sa.Column("demand", sa.Float(53)),
        sa.Column("capacity", sa.Float(53)),
        _text("unit"),
        sa.Column("line", sa.Integer),
        _check(f"answer IN {_ANSWERS}", "answer_known"),
    )


def _runs() -> None:
    op.create_table(
        "run",
        _entry(),
        *(_text(name) for name in ("job", "program_sha256", "outcome", "note")),
        _text("tool", null=True),
        sa.Column("line", sa.Integer, _check("line >= 1", "line_from_1")),
        sa.Column("off_mm", sa.Float(53)),
        _text("feature", null=True),
        _content("facts"),
        _check("outcome IN ('good', 'rang', 'size', 'broke', 'stopped', 'other')", "outcome_known"),
    )
    op.create_index("run_by_job", "run", ["job", "entry"])
    op.create_table(
        "run_tool",
        _entry("run.entry"),
        sa.Column("tool", sa.Text, primary_key=True),
        sa.Column("minutes", sa.Float(53), _check("minutes >= 0", "minutes_not_negative"), nullable=False),
    )


def _only_ever_added_to() -> None:
    """Whoever opens the file by other means cannot change or drop a line by an oversight either."""
    says = "the book is only ever added to"
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION only_added_to() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{says}'; END $$"
        )
        for table in TABLES:
            op.execute(
                f"CREATE TRIGGER {table}_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION only_added_to()"
            )
        return
    for table in TABLES:
        for deed in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table} BEGIN SELECT RAISE(ABORT, '{says}'); END"
            )


def downgrade() -> None:
    raise NotImplementedError("a book is never made older")
