# SPDX-License-Identifier: GPL-3.0-or-later
"""Pages opened in the system's Chromium, without a network. Where there is none, the test is skipped."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pytest

SERIOUS = ("serious", "critical")
"""Grades of accessibility rules that a page must not break."""

LARGEST = 3_000_000
"""Bytes of a page."""

DRAWN = 20_000
"""How long a figure may take until it is drawn [ms]; a loaded machine is slow."""


@dataclass
class Opened:
    """A page in the browser. messages: errors and warnings of its console; requests: what it asked the network for."""

    page: Any
    messages: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """What can be read on the page, with what is folded away."""
        return str(self.page.evaluate("document.querySelector('main').textContent"))

    @property
    def overflow(self) -> int:
        """Pixels by which the page is wider than the window."""
        return int(self.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))

    def draw(self) -> int:
        """Come to every figure so that it is drawn; how many there are."""
        figures = self.page.locator(".zoomable")
        for number in range(figures.count()):
            figures.nth(number).scroll_into_view_if_needed()
            figures.nth(number).locator("canvas").first.wait_for(timeout=DRAWN)
        return int(figures.count())

    def point(self, x: float, panel: int = 0, figure: int = 0) -> dict[str, str]:
        """Move the pointer over a panel to x, in units of its axis, half way up; what is read there, by name."""
        place = self.page.locator(".zoomable").nth(figure)
        place.scroll_into_view_if_needed()
        place.locator("canvas").first.wait_for(timeout=DRAWN)
        across, down = self.page.evaluate(_WHERE, [figure, panel, x])
        shown = self.page.locator(".reading").locator("visible=true").first
        self.page.mouse.move(0, 0)
        shown.wait_for(state="hidden", timeout=DRAWN)
        self.page.mouse.move(across, down)
        shown.wait_for(timeout=DRAWN)
        names, values = (shown.locator(f".{kind}").all_inner_texts() for kind in ("name", "value"))
        return {name.removeprefix("■").strip(): value for name, value in zip(names, values, strict=True)}

    def box(self, start: float, end: float, panel: int = 0, figure: int = 0) -> None:
        """Drag a box from start to end, in units of the axis along, over the upper half of a panel."""
        across, middle = self.page.evaluate(_WHERE, [figure, panel, start])
        self.page.mouse.move(across, middle)
        self.page.mouse.down()
        self.page.mouse.move(self.page.evaluate(_WHERE, [figure, panel, end])[0], middle - 60, steps=4)
        self.page.mouse.up()

    def along(self, panel: int = 0, figure: int = 0) -> tuple[float, float]:
        """Start and end of what a panel shows, in units of its axis along."""
        start, end = self.page.evaluate(_SHOWN, [figure, panel])
        return start, end

    def assert_sound(self, figures: int) -> None:
        """So many figures can be drawn; nothing is complained of or fetched, nothing wider than the window, all accessible."""
        assert self.draw() == figures
        assert (self.messages, self.requests, self.overflow, self.violations()) == ([], [], 0, [])

    def violations(self) -> list[str]:
        """Rules of accessibility that the page breaks seriously, and where."""
        from axe_playwright_python.sync_playwright import Axe

        found = Axe().run(self.page).response["violations"]
        return [
            f"{rule['id']}: {[node['html'][:120] for node in rule['nodes'][:4]]}" for rule in found if rule["impact"] in SERIOUS
        ]


def without_scripts(text: str) -> str:
    """A page's text without its scripts; the browser tests hold these to fetching nothing."""
    return re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)


_FRAME = """const plots = (view) => view.frame ? [view] : (view.child_views ?? []).flatMap(plots);
  const views = await document.querySelectorAll(".zoomable")[figure].drawn;
  const {frame, el} = [...views].flatMap(plots)[panel];"""

_WHERE = f"""async ([figure, panel, x]) => {{ {_FRAME}
  const inner = frame.bbox, middle = (inner.top + inner.bottom) / 2;
  window.scrollBy(0, el.getBoundingClientRect().top + middle - innerHeight / 2);
  const box = el.getBoundingClientRect();
  return [box.left + frame.x_scale.compute(x), box.top + middle];
}}"""
"""Place of x half way up a panel, in the window, which is moved there."""

_SHOWN = f"""async ([figure, panel]) => {{ {_FRAME} return [frame.x_range.start, frame.x_range.end]; }}"""


@cache
def _browser() -> Any:
    """The running browser with its driver, one for all pages until `shut`."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("no chromium on the path: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    driver = sync_playwright().start()
    return driver, driver.chromium.launch(executable_path=program, args=["--no-sandbox"])


def shut() -> None:
    """End the browser, if there is one: its driver's event loop would be in the way of others."""
    if _browser.cache_info().currsize:
        driver, browser = _browser()
        browser.close()
        driver.stop()
        _browser.cache_clear()


@contextmanager
def opened(path: Path, width: int = 1200, dark: bool = False, script: bool = True) -> Iterator[Opened]:
    """A page of a file in a window so wide [px], offline; the test is skipped where no Chromium is installed."""
    look: Any = {"color_scheme": "dark" if dark else "light", "java_script_enabled": script, "offline": True}
    context = _browser()[1].new_context(viewport={"width": width, "height": 900}, **look)
    page = context.new_page()
    found = Opened(page)
    page.on("console", lambda said: found.messages.append(said.text) if said.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: found.messages.append(str(error)))
    page.on("request", lambda asked: None if asked.url == path.as_uri() else found.requests.append(asked.url))
    try:
        page.goto(path.as_uri())
        yield found
    finally:
        context.close()
