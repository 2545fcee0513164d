"""The sheets' own fonts as typst can read them: it reads no woff2 and no variable weights, so both are unpacked once into a cache folder."""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import tempfile
from collections.abc import Mapping
from functools import cache
from importlib import resources
from pathlib import Path

import typst
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont

FONTS = "pages/static/fonts"
"""Below the package; licences lie beside them."""
WEIGHTS = (400, 500, 600)
"""Of a variable font: the weights that sheets are set in."""
VARIABLE = "-wght-"
"""In the name of a font of variable weight."""
MADE_AS = "1"
"""Counted up where unpacking changes, so that no older cache is taken."""


@cache
def paper_fonts() -> typst.Fonts:
    """The fonts of the sheets, and those that typst brings itself; never the system's, so that a sheet looks the same everywhere."""
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(unpacked_fonts(_cache_folder()))]
    )


def unpacked_fonts(cache_folder: Path) -> Path:
    """The folder below `cache_folder` that holds the fonts as TTF, made where it is not there or not whole. Others may make it at the same
    time."""
    sources = _sources()
    stamp = hashlib.sha256(b"".join([MADE_AS.encode(), *sources.values()])).hexdigest()[:16]
    folder = cache_folder / f"fonts-{stamp}"
    if _whole(folder, sources):
        return folder
    cache_folder.mkdir(parents=True, exist_ok=True)
    part = Path(tempfile.mkdtemp(prefix=".fonts-", dir=cache_folder))
    try:
        for name, packed in sources.items():
            _unpack(name, packed, part)
        shutil.rmtree(folder, ignore_errors=True)
        part.rename(folder)
    except OSError:
        if not _whole(folder, sources):  # nobody else made it meanwhile
            raise
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return folder


def _whole(folder: Path, sources: Mapping[str, bytes]) -> bool:
    """Whether every font is there and can be read: without it words would be set in another, or not at all."""
    if not folder.is_dir():
        return False
    found = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(folder)]).fonts()
    return len(found) == sum(len(WEIGHTS) if VARIABLE in name else 1 for name in sources)


def _sources() -> dict[str, bytes]:
    folder = resources.files("firstoff").joinpath(FONTS)
    return {
        one.name.removesuffix(".woff2"): one.read_bytes()
        for one in sorted(folder.iterdir(), key=lambda one: one.name)
        if one.name.endswith(".woff2")
    }


def _unpack(name: str, packed: bytes, into: Path) -> None:
    font = TTFont(io.BytesIO(packed), recalcTimestamp=False)
    if "fvar" not in font:
        font.flavor = None
        font.save(into / f"{name}.ttf")
        return
    for weight in WEIGHTS:
        one = instantiateVariableFont(TTFont(io.BytesIO(packed), recalcTimestamp=False), {"wght": weight})
        one.flavor = None
        one.save(into / f"{name}-{weight}.ttf")


def _cache_folder() -> Path:
    """Where this user's caches lie; a folder of the session where nothing can be written there."""
    given = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    folder = (Path(given) if given else Path.home() / ".cache") / "firstoff"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return folder
    except OSError:
        return Path(tempfile.gettempdir()) / f"firstoff-{os.getuid() if hasattr(os, 'getuid') else 'user'}"
