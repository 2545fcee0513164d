"""Every kind of bad input has one clear answer: the cases of `make bad-input`, asked in one process."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from firstoff import cli
from proof.bad_input.__main__ import CASES
from proof.bad_input.answer import Answer, wrong
from proof.bad_input.case import Case

QUICK = [case for case in CASES if not case.slow]


@pytest.mark.parametrize("case", QUICK, ids=[case.name for case in QUICK])
def test_bad_input_is_answered_at_its_place(
    case: Case, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    case.lay_out(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FIRSTOFF_SHOP", raising=False)
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setattr(sys, "argv", ["firstoff", *case.command])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    said = capsys.readouterr()
    answer = Answer(int(ended.value.code or 0), said.out, said.err)
    assert wrong(case, answer, tmp_path) == []


def test_no_two_cases_have_one_name() -> None:
    assert len({case.name for case in CASES}) == len(CASES)
