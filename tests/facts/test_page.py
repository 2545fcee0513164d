"""docs/facts.md says what the schema says."""

from __future__ import annotations

from pathlib import Path

from firstoff.facts.control import CONTROL_KEYS
from firstoff.facts.judgement import QUESTIONS
from firstoff.facts.page import facts_page
from firstoff.verdict.questions import ALL, NOT_YET

PAGE = Path(__file__).parents[2] / "docs" / "facts.md"


def test_page_is_the_one_the_schema_makes() -> None:
    assert PAGE.read_text() == facts_page(), "run: python -m firstoff.facts.page > docs/facts.md"


def test_every_control_key_is_on_it_with_its_words() -> None:
    text = PAGE.read_text()
    for name, key in CONTROL_KEYS.items():
        line = next(line for line in text.split("\n") if line.startswith(f"| `{name}` |"))
        assert all(f"`{word}`" in line for word in key.words)
        assert key.meaning in line


def test_every_question_may_have_its_own_thresholds() -> None:
    assert {question.id for question, _ in ALL} | set(NOT_YET) <= set(QUESTIONS)
