"""A shop with more tools than the demo's: 24 pockets with every kind of cutter, worn, suspect, gripped anew, never measured, too wide; a
feeler in the spindle, cutters in drawers."""

from __future__ import annotations

from pathlib import Path

from firstoff.workflows.book import notice, shop_book
from firstoff.workflows.crib import take_length
from firstoff.workflows.tools_room import act

from .conftest import lay

MORE = """
[tool.m4]                  # cuts a thread
kind = "tap"
DC   = { value = "4.00(2) mm", evidence = "plate" }
TP   = "0.7 mm"
ZEFP = 3
APMX = "12 mm"
DMM  = "4.5 mm"
OHX  = "27.0(3) mm"
LF   = { value = "66.310(8) mm", evidence = "measured", df = 4, on = 2026-11-03 }
holder = [["20 mm", "39 mm"]]
wear_allowed = "30 µm"
life = "20(5) min"
used_up = "22 min"

[tool.slot12]              # undercuts
kind = "tee"
DC   = { value = "12.00(2) mm", evidence = "plate" }
DN   = "5 mm"
RE   = "0.1 mm"
ZEFP = 4
APMX = "3 mm"
DMM  = "6 mm"
LU   = "14 mm"
OHX  = "24.0(3) mm"
LF   = { value = "63.020(8) mm", evidence = "assumed" }
holder = [["20 mm", "39 mm"]]
wear_allowed = "30 µm"

[tool.globe4]
kind = "lollipop"
DC   = { value = "4.00(2) mm", evidence = "plate" }
DN   = "2.4 mm"
LU   = "12 mm"
DMM  = "4 mm"
ZEFP = 2
OHX  = "24.0(3) mm"
LF   = { value = "63.120(8) mm", evidence = "measured", df = 4, on = 2026-11-03 }
holder = [["16 mm", "39 mm"]]
wear_allowed = "30 µm"

[tool.cone3]
kind = "tapered"
DC   = { value = "1.00(2) mm", evidence = "plate" }
KAPR = "87 deg"
RE   = "0.1 mm"
ZEFP = 2
APMX = "18 mm"
DMM  = "3 mm"
OHX  = "25.0(3) mm"
LF   = { value = "74.290(8) mm", evidence = "measured", df = 4, on = 2026-11-03 }
holder = [["16 mm", "26 mm"], ["22 mm", "23.3 mm"]]
wear_allowed = "30 µm"
life = "60 min"

[tool.fly40]               # too wide for its neighbour
kind = "flat"
DC   = { value = "32.0(1) mm", evidence = "plate" }
RE   = "0 mm"
ZEFP = 1
APMX = "4 mm"
DMM  = "8 mm"
OHX  = "20.0(5) mm"
LF   = { value = "58.100(8) mm", evidence = "measured", df = 4, on = 2026-11-03 }
holder = [["30 mm", "38 mm"]]
wear_allowed = "30 µm"
life = "200 min"
used_up = "5 min"

[tool.nobody]              # in the rack, and nobody has written down what it is
place_note = 0
"""
STANDS = {11: "m4", 12: "slot12", 13: "globe4", 14: "cone3", 15: "fly40", 17: "feeler", 20: "nobody"}


def lay_tools(folder: Path, pockets: int = 24) -> Path:
    """The demo shop with all of them."""
    lay(folder)
    file = folder / "tools.toml"
    text = file.read_text(encoding="utf-8").replace('place  = "drawer 1"\n', "").replace('wear_allowed = "5 µm"\n', "")
    more = MORE.replace("place_note = 0\n", 'kind = "flat"\n')
    first, *rest = text.split("[[pocket]]", 1)
    text = first + more + "\n[[pocket]]" + rest[0]
    for number in range(11, pockets + 1):
        tool = f'tool = "{STANDS[number]}"\n' if number in STANDS else ""
        text += f'\n[[pocket]]\nnumber = {number}\n{tool}at = ["301 mm", "{14 + 23 * (number - 1)} mm", "-118 mm"]\n'
    file.write_text(text, encoding="utf-8")
    here = shop_book(folder)
    notice(here)
    for worn in (0.0, 0.002, 0.004, 0.005, 0.008):
        take_length(here, "em6", [71.315 - worn, 71.3165 - worn, 71.3155 - worn])
    take_length(here, "em3", [69.86, 69.861, 69.862], sure=True)
    act(here, "spindle", "feeler", {})
    act(here, "unload", "dr42", {"to": "drawer 3"})
    act(here, "broke", "b4", {"why": "rubbed in the slot"})
    act(here, "fresh", "dr25", {})
    return folder
