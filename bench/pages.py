"""The pages: how soon the page of a million blocks can be used, how quickly it answers a hand, and what idle tabs cost an examination.

Run by itself: ``python bench/pages.py``. Chromium draws without a graphics processor here, so the picture is slower than on any desk.
"""

from __future__ import annotations

import socket
import statistics
import sys
import tempfile
import threading
import time
from datetime import datetime
from pathlib import Path
from typing import Any

import large
import run
import uvicorn

from firstoff.demo.lay_out import lay_out
from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--use-gl=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"]
TABS, TIMES = 10, 5
PAINTED = """const box = document.querySelector('.picture'), gl = box.querySelector('canvas').getContext('webgl2');
  const painted = async () => {
    await new Promise((done) => requestAnimationFrame(() => { gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4)); done(); }));
    await new Promise((done) => requestAnimationFrame(done));
  };"""
"""Waits until the frame that an act asked for is drawn, to its last pixel, and the next one begins."""
TURN = f"""async () => {{ {PAINTED}
  const began = performance.now();
  box.dispatchEvent(new KeyboardEvent('keydown', {{ key: 'ArrowRight', bubbles: true }}));
  await painted();
  return performance.now() - began; }}"""
DRAG = f"""async () => {{ {PAINTED}
  const to = (sort, x) => box.dispatchEvent(new PointerEvent(sort, {{ pointerId: 1, clientX: x, clientY: 200, bubbles: true }})), took = [];
  box.setPointerCapture = () => {{}};
  to('pointerdown', 900);
  for (let k = 1; k <= 8; k++) {{ const began = performance.now(); to('pointermove', 900 + 9 * k); await painted(); took.push(performance.now() - began); }}
  to('pointerup', 972);
  return Math.max(...took); }}"""
CHOOSE = f"""async () => {{ {PAINTED}
  const began = performance.now();
  document.querySelectorAll('.program-line')[4].click();
  await painted();
  return performance.now() - began; }}"""


def main() -> None:
    """Print the figures."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        shop = Path(name) / "shop"
        lay_out(shop, datetime.now())
        bench = large.Bench(shop, run.MILLION, run.raster)
        bench.tool_up()
        million = bench.finishing(1_000_000, 32.0).folder.name
        address, app = _served(shop)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for what, figure in (*_million(browser, address, app, million), *_tabs(browser, address, app)):
            print(f"{what:<70} {figure:>9}", flush=True)
        browser.close()


def _served(shop: Path) -> tuple[str, Any]:
    heard = socket.socket()
    heard.bind(("127.0.0.1", 0))
    port = heard.getsockname()[1]
    app = make_app(shop, Door(names_of([], port)))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error"))
    threading.Thread(target=server.run, kwargs={"sockets": [heard]}, daemon=True).start()
    while not server.started:
        time.sleep(0.05)
    return f"http://127.0.0.1:{port}", app


def _examined(app: Any, job: str) -> float:
    began = time.perf_counter()
    work = app.state.desk.ask(job)
    work.done.wait()
    if work.faults:
        raise SystemExit(str(work.faults[0]))
    return time.perf_counter() - began


def _million(browser: Any, address: str, app: Any, job: str) -> list[tuple[str, str]]:
    _examined(app, job)
    page = browser.new_page(viewport={"width": 1440, "height": 900})
    shown = []
    for _ in range(3):
        began = time.perf_counter()
        page.goto(f"{address}/jobs/{job}")
        page.wait_for_selector("body[data-ready]")
        shown.append(time.perf_counter() - began)
    page.wait_for_timeout(1000)
    turned = statistics.median(page.evaluate(TURN) for _ in range(5))
    dragged = statistics.median(page.evaluate(DRAG) for _ in range(3))
    page.wait_for_timeout(1500)
    turned_after_rest = page.evaluate(TURN)
    chosen = statistics.median(page.evaluate(CHOOSE) for _ in range(5))
    page.close()
    return [
        ("job page of a million blocks usable, examination there", f"{statistics.median(shown):.1f} s"),
        ("a line of it chosen, everything pointing at it", f"{chosen:.0f} ms"),
        ("its picture turned by a key, no graphics processor", f"{turned:.0f} ms"),
        ("its picture turned by a key after a rest", f"{turned_after_rest:.0f} ms"),
        ("the slowest frame of its picture under a dragging hand", f"{dragged:.0f} ms"),
    ]


def _tabs(browser: Any, address: str, app: Any) -> list[tuple[str, str]]:
    _examined(app, "logger-lid")
    alone = statistics.median(_examined(app, "logger-lid") for _ in range(TIMES))
    pages = []
    for number in range(TABS):
        page = browser.new_page()
        page.goto(f"{address}/{('jobs/logger-lid', 'machine', 'jobs', 'history', 'numbers')[number % 5]}")
        pages.append(page)
    pages[0].wait_for_timeout(1500)
    beside = statistics.median(_examined(app, "logger-lid") for _ in range(TIMES))
    return [(f"an examination beside {TABS} idle tabs / alone (median of {TIMES})", f"{beside / alone:.2f} x")]


if __name__ == "__main__":
    sys.exit(main())
