# SPDX-License-Identifier: GPL-3.0-or-later
"""What long work says of itself while it is at it: how far it is and how long it still takes.

On a terminal a few lines on standard error renew themselves and are gone at the end. They are never cut: where there is little
room they say fewer things, each of them whole. Off a terminal a plain line comes now and then; hushed, nothing does.
"""

from __future__ import annotations

import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base.terminal import ASCII, print_text
from heatsim.report.base.words import duration

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderResult

BAR, SHORTEST = 28, 10
"""Cells of a bar, and of the shortest that is drawn."""

WIDE = 60
"""Columns from which on a bar comes before what is said last."""

EVERY, PATIENCE = 30.0, 30.0
"""Seconds between two plain lines where there is no terminal, and before the first of work that may be short."""

SOON = 1.0
"""Seconds of work before its end is estimated."""

AT_MOST, IN_THIS_STEP = ("at most {} left",), ("{} left in this step", "{} left")
"""Of work that may end earlier, and of work whose later steps are not known yet."""

RUNNING = 6
"""Cases shown at once that are being simulated."""

Part = str | Sequence[str]
"""Something that is said, or wordings of it, the fullest first."""

BETWEEN = " · "

Clock = Callable[[], float]
"""Seconds, by default `time.monotonic`."""


def fitted(parts: Sequence[Part], width: int) -> str:
    """As much of what is to be said as there is room for, the more important first, nothing of it cut; what is said, as fully as
    there is room for.

    width: columns
    """
    from rich.cells import cell_len

    wordings = [[printable(each) for each in ([part] if isinstance(part, str) else part)] for part in parts if part]
    said: list[list[str]] = []
    for each in wordings:
        if sum(cell_len(one[-1]) + len(BETWEEN) for one in [*said, each]) - len(BETWEEN) <= width:
            said.append(each)
    room = width - sum(cell_len(one[-1]) + len(BETWEEN) for one in said) + len(BETWEEN)
    chosen = []
    for each in said:
        brief = cell_len(each[-1])
        best = next(wording for wording in each if cell_len(wording) - brief <= room)
        room -= cell_len(best) - brief
        chosen.append(best)
    return BETWEEN.join(chosen)


@dataclass(frozen=True)
class Line:
    """One line. parts: what it says, the most important first; share: of the work that is done [1], None for no bar; ends: when the
    work will be done, in seconds of `time.monotonic`, None where that is not known; left: wordings of the time until then; aside:
    said on terminals only, dim.
    """

    parts: Sequence[Part]
    share: float | None = None
    ends: float | None = None
    left: Sequence[str] = ("{} left",)
    aside: bool = False

    def said(self, now: float) -> Sequence[Part]:
        """Its parts, with the time left in the second place. now: of the same clock as `ends`."""
        left = 0.0 if self.ends is None else self.ends - now
        if round(left) < 1:
            return self.parts
        return [*self.parts[:1], [each.format(duration(left)) for each in self.left], *self.parts[1:]]


class Remaining:
    """When work will be done: what is left of it at the speed of the latter half of the time so far.

    clock: see `Clock`
    """

    def __init__(self, clock: Clock | None = None) -> None:
        self._clock = clock or time.monotonic
        self._seen: deque[tuple[float, float]] = deque()
        self._begun: float | None = None
        self.ends: float | None = None

    def at(self, share: float) -> float | None:
        """When it will be done [s], None while that cannot be told. share: of all work that is done by now [1]."""
        now = self._clock()
        if self._seen and share < self._seen[-1][1]:  # something else has begun
            self._seen.clear()
            self.ends = self._begun = None
        self._begun = now if self._begun is None else self._begun
        if self._seen and share == self._seen[-1][1]:
            return self.ends
        self._seen.append((now, share))
        middle = (self._begun + now) / 2
        while len(self._seen) > 2 and self._seen[1][0] <= middle:
            self._seen.popleft()
        (then, before), passed = self._seen[0], now - self._begun
        if passed >= SOON and now > then:
            self.ends = now + (1 - min(share, 1.0)) * (now - then) / (share - before)
        return self.ends


class Lines:
    """Lines as they are drawn: new with every drawing, for the time left and the terminal's width at that moment."""

    def __init__(self, lines: Sequence[Line], clock: Clock | None = None) -> None:
        self._lines, self._clock = lines, clock or time.monotonic

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        from rich.cells import cell_len
        from rich.text import Text

        width, now = options.max_width, self._clock()
        bars = [line.share is not None for line in self._lines]
        spared = SHORTEST + 2 if any(bars) and width >= WIDE else 0
        texts = [fitted(line.said(now), width - spared * bar) for line, bar in zip(self._lines, bars, strict=True)]
        longest = max((cell_len(text) for text, bar in zip(texts, bars, strict=True) if bar), default=0)
        cells = min(BAR, width - longest - 2)
        for line, text in zip(self._lines, texts, strict=True):
            drawn = Text(no_wrap=True)
            if line.share is not None and cells >= SHORTEST:
                done = round(cells * min(max(line.share, 0.0), 1.0))
                drawn.append("━" * done, "bar.complete").append("─" * (cells - done), "bar.back").append("  ")
            drawn.append(text, "dim" if line.aside else "")
            yield drawn if options.encoding.startswith("utf") else Text(drawn.plain.translate(ASCII), no_wrap=True)


Update = Callable[..., None]
"""Shows lines in place of those before; with last=True they are the last, and written off a terminal too."""


@contextmanager
def live(hushed: bool = False, stream: TextIO | None = None, patience: float = PATIENCE) -> Iterator[Update]:
    """Shows lines while the block runs.

    stream: standard error unless given; patience: seconds before the first plain line where there is no terminal
    """
    from rich.console import Console
    from rich.live import Live

    console = Console(file=stream or sys.stderr, highlight=False, markup=False)
    if hushed or not console.is_terminal or console.is_dumb_terminal:
        yield (lambda lines, last=False: None) if hushed else _plainly(stream or sys.stderr, patience)
        return
    with Live(console=console, transient=True, refresh_per_second=4) as shown:
        yield lambda lines, last=False: shown.update(Lines(lines))


def _plainly(stream: TextIO, patience: float) -> Update:
    """Writes lines one after the other, not too often, and the last."""
    due = time.monotonic() + patience

    def write(lines: Sequence[Line], last: bool = False) -> None:
        nonlocal due
        now = time.monotonic()
        if last or now >= due:
            due = now + EVERY
            said = [fitted(line.said(now), sys.maxsize) for line in lines if not line.aside]
            print_text(" · ".join(filter(None, said)) + "\n", stream)

    return write


class Cases:
    """How far simulations are that run at once or one after the other.

    count: of them, those that come beyond it count too; names: of the first of them; what: they all are; clock: see `Clock`
    """

    def __init__(self, count: int, names: Sequence[str] = (), what: str = "cases", clock: Clock | None = None) -> None:
        self._least, self._names, self._what = count, names, what
        self._known: dict[int, tuple[float, float]] = {}
        self._share, self._ended = 0.0, 0
        self._remaining = Remaining(clock)

    @property
    def over(self) -> bool:
        """Whether all are done."""
        return self._done() >= self._count

    @property
    def _count(self) -> int:
        return max(self._least, len(self._known))

    def told(self, index: int, reached: float, target: float) -> None:
        """A case has come to a simulated time of so many that are aimed at [s]; to all of them it has ended."""
        self._known[index] = reached, target
        self._share = max(self._share, self.share)  # a case that aims at more than before undoes nothing
        self._ended = max(self._ended, self._done())
        self._remaining.at(self._share)

    @property
    def share(self) -> float:
        """Of all simulated time that is done [1]; of cases that have not begun as much is expected as of the others."""
        expected = sum(target for _, target in self._known.values()) / max(len(self._known), 1) * self._count
        return sum(reached for reached, _ in self._known.values()) / expected if expected else 0.0

    def lines(self) -> list[Line]:
        """What there is to say."""
        share, ends = self._share, self._remaining.ends
        if self._count == 1:
            return [Line(self._case(0), share, ends)] if self._known else []
        total = Line([f"{self._ended} of {self._count} {self._what} simulated"], share, ends)
        running = [number for number, (reached, target) in self._known.items() if reached < target]
        return [total, *(Line(self._case(number), self._part(number), aside=True) for number in running[:RUNNING])]

    def _done(self) -> int:
        return sum(reached >= target for reached, target in self._known.values())

    def _part(self, number: int) -> float:
        reached, target = self._known[number]
        return reached / target if target else 0.0

    def _case(self, number: int) -> list[Part]:
        reached, target = self._known[number]
        name = self._names[number] if number < len(self._names) else str(number + 1)
        return [f"case {name}", f"{1e3 * reached:.2f} of {1e3 * target:.2f} ms"]


class Watch:
    """Progress of a check; called by the engine with deck index, simulated time so far and time aimed at [s]."""

    def __init__(self, update: Update, names: Sequence[str] = ()) -> None:
        self._update, self._cases = update, Cases(len(names), names)
        self._note: list[Line] = []

    def __call__(self, index: int, reached: float, target: float) -> None:
        """One deck has come as far as `reached`; equal to `target` it has ended."""
        self._cases.told(index, reached, target)
        self._show()

    def note(self, text: str, ends: float | None = None) -> None:
        """What is being done now, beside the cases. ends: when it will at the latest, in seconds of `time.monotonic`."""
        self._note = [Line([text], ends=ends, left=AT_MOST)]
        self._show()

    def _show(self) -> None:
        self._update([*([] if self._cases.over else self._cases.lines()), *self._note])


@contextmanager
def progress(hushed: bool = False, names: Sequence[str] = (), stream: TextIO | None = None) -> Iterator[Watch]:
    """Shows how far the cases of these names are while the block runs."""
    with live(hushed, stream) as update:
        yield Watch(update, names)


@contextmanager
def runs(count: int, hushed: bool = False, stream: TextIO | None = None) -> Iterator[Callable[[int, float, float], None]]:
    """The same of simulations that are no cases, so many or some more."""
    cases = Cases(count, what="runs")

    def told(index: int, reached: float, target: float) -> None:
        cases.told(index, reached, target)
        update(cases.lines()[:1])

    with live(hushed, stream) as update:
        yield told


@contextmanager
def steps(
    hushed: bool = False, stream: TextIO | None = None, left: Sequence[str] = ("{} left",)
) -> Iterator[Callable[[str, float], None]]:
    """Shows what is being done while the block runs; what is yielded takes that, and the share that is done [1].

    left: how the time left is told; `IN_THIS_STEP` where the share is of a step and begins anew with the next
    """
    remaining = Remaining()

    def told(what: str, share: float) -> None:
        share = min(max(share, 0.0), 1.0)
        update([Line([f"{100 * share:.0f} %"], share, remaining.at(share), left), Line([what])])

    with live(hushed, stream) as update:
        yield told
