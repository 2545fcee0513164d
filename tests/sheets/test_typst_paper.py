"""Setting sheets: any text is shown as it is, what no font has is told by its code, fonts are unpacked once."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import pytest
import typst
from hypothesis import example, given, settings
from hypothesis import strategies as st

from firstoff.sheets.paper_fonts import paper_fonts, unpacked_fonts
from firstoff.sheets.typst_paper import Document, Drawing, Paper, Typeset, shown
from tests.sheets.pdf_reading import bare, words

NOW = datetime(2026, 5, 4, 15, 5)
LIST = Typeset("tool_list.typ", Document("Any #text $at$ all", "firstoff:test", NOW, Paper.A4))
NOTHING = {"kind": "", "foot": "", "counted": "", "remarks": [], "heads": ["a"], "wide": [100.0], "rows": []}


@settings(max_examples=40, deadline=None)
@given(st.text(max_size=60))
@example('#panic() #let x = 1 $a/b$ \\ \\u{41} "q" [b] {c} *d* _e_ `f` @g <h> // i /* j */ ~ -- --- ... http://k.l')
@example("= head\n- list\n+ more\n/ term: x\n\n\tend")
@example("\x00\x07\x1b\ud800中文\u202e\U0001f600")
@example("-" * 300)
def test_any_text_is_shown_as_it_is(text: str) -> None:
    pdf = LIST.pdf({**NOTHING, "title": "", "remarks": [f"x{text}x"]})
    assert bare(shown(f"x{text}x")) in bare(words(pdf))


def test_what_no_font_has_is_told_by_its_code() -> None:
    assert shown("Ø6 中 \x07") == "Ø6 [U+4E2D] [U+0007]"
    assert shown("Łódź Ωμέγα Ж → ≤") == "Łódź Ωμέγα Ж → ≤"
    assert shown("a\u202fb") == "a\u00a0b"


def test_the_fonts_have_every_letter_that_is_let_through() -> None:
    """typst refuses to write an archive copy that holds a letter which no font has."""
    letters = "".join(chr(code) for code in range(0x20, 0x2700) if shown(chr(code)) == chr(code) and code != 0x200B)
    assert len(letters) > 400
    source = (
        b'#set document(title: "t")\n#set text(fallback: false, lang: "en")\n#for font in ("Barlow", "STIX Two Text", "IBM Plex Mono") '
        b'{ text(font: (font, "DejaVu Sans Mono"), sys.inputs.data) }'
    )

    def written(data: str) -> object:
        return typst.Compiler(input=source, font_paths=paper_fonts(), sys_inputs={"data": data}).compile(
            format="pdf", pdf_standards="a-2b"
        )

    assert written(letters)
    with pytest.raises(typst.TypstError):
        written("中")


def test_figures_stay_with_their_units_and_long_words_may_be_broken() -> None:
    assert shown("at 7.0 mm and 2.2 ± 0.3 kN") == "at 7.0\u00a0mm and 2.2\u00a0±\u00a00.3\u00a0kN"
    assert shown("x" * 40).replace("\u200b", "") == "x" * 40
    assert max(len(part) for part in shown("x" * 400).split("\u200b")) <= 18


def test_a_drawing_that_holds_a_strangers_words_is_drawn() -> None:
    svg = '<svg viewBox="0 0 10 10"><text class="note" x="1" y="5">a &lt;b&gt; 中 \x07</text></svg>'
    sheet = Typeset("setup_sheet.typ", Document("t", "firstoff:test", NOW, Paper.A4))
    told = sheet._inputs({"one": Drawing(svg)})["data"]
    assert "[U+4E2D]" in told
    assert "[U+0007]" in told
    assert "var(--" not in told


def test_fonts_are_unpacked_once_and_are_those_of_the_look(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "deep" / ".fonts-left").mkdir(parents=True)  # by somebody who was interrupted
    folder = unpacked_fonts(tmp_path / "deep")
    before = {path: path.stat().st_mtime_ns for path in folder.iterdir()}
    assert unpacked_fonts(tmp_path / "deep") == folder
    assert before == {path: path.stat().st_mtime_ns for path in folder.iterdir()}
    assert {path.name for path in (tmp_path / "deep").iterdir()} == {folder.name, ".fonts-left"}
    found = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)]).fonts()
    kinds = {(one.family, one.style, one.weight, one.stretch) for one in found}
    for kind in (
        *(("Barlow", "normal", weight, 1.0) for weight in (400, 500, 600)),
        *(("Barlow", "normal", weight, 0.875) for weight in (500, 600)),
        *(("STIX Two Text", style, weight, 1.0) for style in ("normal", "italic") for weight in (400, 500, 600)),
        ("IBM Plex Mono", "normal", 400, 1.0),
    ):
        assert kind in kinds, kind
    whole = shutil.copytree(folder, tmp_path / "whole")
    asked = []

    def copied(name: str, _packed: bytes, into: Path) -> None:  # unpacking again takes seconds and makes the same
        asked.append(name)
        for one in whole.glob(f"{name}*"):
            shutil.copy(one, into)

    monkeypatch.setattr("firstoff.sheets.paper_fonts._unpack", copied)
    next(folder.glob("barlow-latin-600*")).write_bytes(b"cut off")
    unpacked_fonts(tmp_path / "deep")
    assert asked
    again = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)]).fonts()
    assert {(one.family, one.style, one.weight, one.stretch) for one in again} == kinds
