# SPDX-License-Identifier: GPL-3.0-or-later
"""The committed table of foreign heaters matched: its targets on the families that were never looked at, and its rows made anew."""

from __future__ import annotations

import csv
import json
import math
import re
import subprocess
import sys
import warnings
from collections import Counter
from pathlib import Path

import pytest

from heatsim.report.match.words import TRUST
from heatsim.studies.match.result import NONE_OF_THESE
from tests.support import foreign_study
from tests.support.book import INDEPENDENT, Known, known
from tests.support.deciding_code import this_code
from tests.support.foreign import faults

ROOT = Path(__file__).resolve().parents[2]
AGAIN = 1
"""Rows that are made anew."""


ROWS = {"2": 360, "4": 360}
"""Least number of rows by channels; half of them of sound heaters."""

LIKE_THE_TABLE = pytest.mark.parametrize("channels", foreign_study.SEEN)


def unseen(channels: str) -> list[dict[str, str]]:
    """Rows of the families that nobody looked at, matched by so many channels."""
    return [row for row in foreign_study.table() if (row["part"], row["channels"]) == (foreign_study.UNSEEN, channels)]


def share(what: str, wanted: float, within: float) -> Known:
    """Of the foreign heaters of a kind."""
    return known(wanted, what, "heaters that another simulator made", INDEPENDENT, abs=within)


def counts(channels: str, group: str) -> foreign_study.Counts:
    """Of the families that nobody looked at; group: "sound", "asked" or "other"."""
    return foreign_study.counts_of(foreign_study.table(), foreign_study.UNSEEN, channels, group)


@LIKE_THE_TABLE
def test_every_cause_family_and_chain_is_there(channels: str) -> None:
    rows = unseen(channels)
    assert len(rows) >= ROWS[channels] and {row["cause"] for row in rows} == set(faults.DRAWS)
    assert min(Counter(row["family"] for row in rows).values()) >= 0.2 * len(rows)
    assert len({row["chain"] for row in rows}) == 4


@LIKE_THE_TABLE
def test_sound_heaters_are_not_blamed(channels: str) -> None:
    sound = counts(channels, "sound")
    assert sound.rows >= ROWS[channels] / 2
    assert sound.wrong / sound.rows == share(f"sound heaters blamed, {channels} channels", 0.0, 0.01)


@LIKE_THE_TABLE
def test_known_faults_are_found(channels: str) -> None:
    """In the first two 92 % are wanted, and decided wrongly under 1.5 %. What tank and drain miss is what they hardly show: clamps,
    oxide films and small resistances; and coil taps look like capacitors that are lost."""
    faulty = counts(channels, "asked")
    assert faulty.second / faulty.rows == share(f"known faults in the first two, {channels} channels", 1.0, 0.08)
    assert faulty.wrong / faulty.rows == share(f"known faults decided wrongly, {channels} channels", 0.0, 0.015)


@LIKE_THE_TABLE
def test_faults_that_heatsim_does_not_know_are_not_blamed_on_others(channels: str) -> None:
    assert {row["cause"] for row in unseen(channels) if row["asked"] == "other"} == set(faults.UNKNOWN)
    others = counts(channels, "other")
    assert others.wrong / others.rows == share(f"unknown faults blamed on others, {channels} channels", 0.0, 0.05)


@LIKE_THE_TABLE
def test_stated_intervals_hold_the_truth(channels: str) -> None:
    """Of every quantity that a fair number of captures tell: wanted are 92 to 98 %; more says that errors are stated too large."""
    inside, outside = (
        Counter(key for row in unseen(channels) for key in row[f"intervals_{name}"].split()) for name in ("inside", "outside")
    )
    told = {key: inside[key] / (inside[key] + outside[key]) for key in inside if inside[key] + outside[key] > 100}
    assert len(told) == 8 and min(told.values()) >= 0.92 and max(told.values()) <= 0.98, told


RIGHT, SURE = "right cause first, or among the first two", "decided, and of these wrongly"


def counted(channels: str) -> dict[str, tuple[int, ...]]:
    """What the page on trust tells of so many channels: the words of its table -> the numbers in it."""
    sound, asked, other = (counts(channels, kind) for kind in ("sound", "asked", "other"))
    return {
        "sound heaters": (sound.rows,),
        "called sound, or sound among the first two": (sound.passed, sound.second),
        "blamed in a decided answer": (sound.wrong,),
        "faults of the causes it knows": (asked.rows,),
        RIGHT: (asked.right, asked.second),
        SURE: (asked.decided, asked.wrong),
        "taken for nothing wrong": (asked.passed,),
        "faults that heatsim does not know": (other.rows,),
        "blamed on another cause in a decided answer": (other.wrong,),
        "called outside what heatsim knows, or none of these": (other.outside,),
        "taken for nothing wrong, though unknown": (other.passed,),
    }


def test_the_page_on_trust_tells_what_was_counted() -> None:
    """Every number of its table, `none` for zero."""
    page = (ROOT / "heatsim" / "docs" / "models" / "trust.md").read_text("utf-8")
    told = {name.strip(): cells for name, *cells in re.findall(r"^\| ([a-z][^|]+)\|([^|]+)\|([^|]+)\|$", page, re.MULTILINE)}
    for column, channels in enumerate(foreign_study.SEEN):
        for name, numbers in counted(channels).items():
            found = re.findall(r"\d+|none", told[name][column])
            assert [0 if each == "none" else int(each) for each in found] == list(numbers), name


def test_the_page_on_trust_tells_what_the_code_before_made_of_the_same_captures() -> None:
    """Rows of `before.csv`: the search of commit a1e5184 on the same captures, which called an answer decided from 20 to 1; "asked"
    are the causes that it knew."""
    with (ROOT / "tests" / "support" / "foreign" / "before.csv").open(encoding="ascii") as handle:
        before = list(csv.DictReader(handle))
    today = {(row["cause"], row["seed"]): row for row in unseen("2")}
    assert {(row["cause"], row["seed"]) for row in before} == set(today)

    def wrong(row: dict[str, str]) -> bool:
        return row["first"] not in (faults.NOTHING, NONE_OF_THESE, row["cause"]) and float(row["lead"]) >= math.log(20)

    sound, known = ([row for row in before if foreign_study.belongs(row, group)] for group in ("sound", "asked"))
    same = [today[row["cause"], row["seed"]] for row in known]
    (then, now), blamed = (sum(map(foreign_study.is_among_two, rows)) for rows in (known, same)), sum(map(wrong, sound))
    told = (
        f"{blamed} of {len(sound)} sound heaters blamed; of the {len(known)} faults that it knew then {then} among the first two "
        f"and {sum(map(wrong, known))} decided wrongly, where today's has {now} and {sum(map(foreign_study.is_wrong, same))}."
    )
    assert told in " ".join((ROOT / "heatsim" / "docs" / "models" / "trust.md").read_text("utf-8").split())


def test_readme_and_screen_tell_what_was_counted() -> None:
    decided, wrong = (
        [sum(map(judge, unseen(channels))) for channels in foreign_study.SEEN]
        for judge in (foreign_study.is_decided, foreign_study.is_wrong)
    )
    screen = (
        f"by tank and one drain {decided[0]} got such an answer that also fits well, {wrong[0]} of them wrong; with a gate and a "
        f"choke's current too, {decided[1]}, {wrong[1]} of them wrong. Of {len(unseen('4')) // 2} sound heaters none was blamed."
    )
    assert screen in TRUST
    readme = " ".join((ROOT / "README.md").read_text("utf-8").split())
    two, four = (counted(channels) for channels in foreign_study.SEEN)
    known, right, sure = (four[name] for name in ("faults of the causes it knows", RIGHT, SURE))
    told = f"of {known[0]} faults it knows {right[0]} came first and {right[1]} among the first two, {sure[0]} were decided and "
    assert f"{told}{sure[1] or 'none'} of these wrongly" in readme
    (first, second), all_known, (sure_two, _) = two[RIGHT], two["faults of the causes it knows"][0], two[SURE]
    assert f"alone: {first} and {second} of {all_known}, {sure_two} decided" in readme


@pytest.mark.slow
@pytest.mark.timeout(1200)
def test_rows_come_out_again_and_what_nothing_makes_is_none_of_these() -> None:
    """The last rows made and matched anew: the same cause first, and a wave that no cause makes.

    The table is long in the making and may be of earlier code: then a warning says how much of it, and how to make it anew.
    """
    command = [sys.executable, "-m", "tests.support.foreign_study", "again", str(AGAIN)]
    told = json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True, timeout=1100).stdout)
    known = {(row["cause"], row["seed"], row["channels"]): row for row in foreign_study.table()}
    assert len(told["rows"]) == AGAIN
    for row in told["rows"]:
        before = known[row["cause"], str(row["seed"]), row["channels"]]
        if float(before["lead"]) > 1.0:
            assert row["first"] == before["first"], row["cause"]
        assert row["misfit"] == pytest.approx(float(before["misfit"]), rel=0.3, abs=0.2)
    assert told["strange"][0] == NONE_OF_THESE
    warn_if_stale(AGAIN)


def warn_if_stale(agreeing: int) -> None:
    """Warn of rows that other code made; agreeing: how many were made anew and agree."""
    rows = foreign_study.table()
    stale = [row for row in rows if row["code"] != this_code()]
    if stale:
        warnings.warn(
            f"{len(stale)} of {len(rows)} rows of {foreign_study.TARGET.name} were made by other code; {agreeing} made anew agree. "
            "To make them anew, delete them and run python -m tests.support.foreign_study",
            stacklevel=2,
        )


def test_a_row_of_other_code_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Silent for a table of today's code; one row of another is counted, with the command that makes it anew."""
    rows = [{"code": this_code()}, {"code": "0123456789abcdef"}]
    monkeypatch.setattr(foreign_study, "table", lambda: rows)
    with pytest.warns(UserWarning, match=r"1 of 2 rows .* python -m tests\.support\.foreign_study"):
        warn_if_stale(15)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        del rows[1]
        warn_if_stale(15)


def test_every_row_says_what_made_it() -> None:
    codes = Counter(row["code"] for row in foreign_study.table())
    assert codes and all(re.fullmatch("[0-9a-f]{16}", code) for code in codes), codes
