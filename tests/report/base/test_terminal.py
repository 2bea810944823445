# SPDX-License-Identifier: GPL-3.0-or-later
"""What all commands print: files written."""

import io
import subprocess
import sys
from pathlib import Path

from heatsim.report.base import terminal


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
