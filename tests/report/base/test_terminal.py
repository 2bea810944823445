# SPDX-License-Identifier: GPL-3.0-or-later
"""What all commands print: progress on a terminal only, interruptions, files written."""

import io
import subprocess
import sys
from pathlib import Path

from heatsim.report.base import terminal
from tests.support.screen import Screen


def test_progress_is_silent_off_a_terminal_and_when_hushed():
    pipe, screen = Screen(tty=False), Screen()
    for hushed, stream in ((False, pipe), (True, screen)):
        with terminal.progress(hushed, stream=stream) as watch:
            watch(0, 1e-3, 2e-3)
            watch.note("drawing")
        assert stream.getvalue() == ""


def test_progress_shows_each_case_and_leaves_nothing(monkeypatch):
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", "100")
    screen = Screen()
    with terminal.progress(names=("idle", "loa\x1bded"), stream=screen) as watch:
        watch(0, 1e-3, 2e-3)
        watch(1, 2e-3, 2e-3)
        watch.note("writing the report")
    text = screen.getvalue()
    assert (
        "case idle" in text
        and "case loa\N{REPLACEMENT CHARACTER}ded" in text
        and "1.00 of 2.00 ms" in text
        and "writing the report" in text
    )
    last = text.rindex("writing the report")
    assert text[last:].count("\x1b[2K") >= 3  # its lines are wiped at the end


def test_the_terminal_needs_no_plotting():
    code = "import sys, heatsim.report.base.terminal; print([n for n in ('matplotlib', 'jinja2', 'rich') if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_what_was_written_is_named_by_its_first_file():
    stream = io.StringIO()
    out = Path("out")
    terminal.show_files([out / "report.html", out / "results.json", out / "tank.png"], stream)
    terminal.show_files([out / "a\x1b[31m.csv"], stream)
    first, second = stream.getvalue().splitlines()
    assert first == f"Written: {out / 'report.html'}, and 2 more beside it"
    assert second == f"Written: {out / 'a'}\N{REPLACEMENT CHARACTER}[31m.csv"
