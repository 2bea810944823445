# SPDX-License-Identifier: GPL-3.0-or-later
"""A changed scenario as a file: the same heater as the changed one, the user's comments kept."""

import re

import pytest

import heatsim as hs
from heatsim.scenario import written
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields


def test_the_file_is_the_changed_heater_with_its_comments(checkout):
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml").change(
        {"choke.right.turns": 22, "choke.measured": {"inductance": "50 uH", "resistance": "9 mohm"}}
    )
    fields = {"choke.measured": None, "choke.turns": 18, "supply.voltage": "30 V", "choke.wire": {"diameter": "1 mm", "strands": 4}}
    text = with_fields(scenario, fields, "changed\nfor a test")
    assert text.startswith("# changed\n# for a test\n")
    kept = [line.split("#", 1)[1] for line in scenario.text.splitlines() if "#" in line and not line.startswith("[choke.wire")]
    assert all(comment in text for comment in kept)
    assert Scenario.from_text(text).hash == scenario.change(fields).hash
    assert "measured]" not in text.split("[switch]")[0]


def dotted(text: str) -> str:
    """The tables [supply] and [choke] with all below as dotted keys at the root, comments and all."""
    root = ""
    for name in ("supply", "choke", "choke.wire", "choke.core"):
        found = re.search(rf"^\[{name}\].*\n((?:.+\n)+)", text, re.MULTILINE)
        assert found is not None
        root += re.sub(r"^(?=[a-z_]+ *=)", f"{name}.", found.group(1), flags=re.MULTILINE)
        text = text.replace(found.group(), "")
    return root + text


def in_braces(text: str) -> str:
    """The table [supply] in braces at the root."""
    found = re.search(r"\[supply\]\n((?:.+\n)+)", text)
    assert found is not None
    return f"supply = {{{', '.join(line.split('#')[0].strip() for line in found.group(1).splitlines())}}}\n" + text.replace(
        found.group(), ""
    )


@pytest.mark.parametrize("rewritten", [dotted, in_braces])
@pytest.mark.parametrize(
    "fields",
    [
        {"supply.voltage": "30 V"},
        {"supply.source": {"kind": "battery", "internal_resistance": "40 mohm"}},
        {"supply.source.kind": "battery", "supply.source.internal_resistance": "40 mohm"},
        {"choke.wire": {"diameter": "1 mm", "strands": 4}, "choke.turns": 18, "choke.core.stack": 2},
        {"choke.left.turns": 22, "supply.inductance": "2 uH"},
        {"case.loaded.set.supply.voltage": "36 V"},
    ],
)
def test_dotted_keys_and_braces_at_the_root_stay_a_file_of_the_changed_heater(checkout, rewritten, fields):
    """A header of a table written between dotted keys would swallow those below it, and braces hold none."""
    text = rewritten((checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8"))
    scenario = Scenario.from_text(text)
    written_text = with_fields(scenario, fields, "changed")
    assert Scenario.from_text(written_text).hash == scenario.change(fields).hash
    comments = re.findall(r"# .+", text)
    assert len(comments) > 5 and all(comment in written_text for comment in comments)


@pytest.mark.parametrize("rewritten", [dotted, in_braces])
def test_a_field_is_taken_out_of_dotted_keys_and_braces(checkout, rewritten):
    text = rewritten((checkout / "scenarios" / "bench-heater.toml").read_text(encoding="utf-8"))
    found = Scenario.from_text(with_fields(Scenario.from_text(text), {"supply.reservoir": None}, ""))
    assert found.tables.supply.reservoir != 470e-6 == Scenario.from_text(text).tables.supply.reservoir


def test_where_the_text_cannot_be_edited_the_values_are_kept_and_the_loss_of_comments_is_told(checkout, monkeypatch):
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    monkeypatch.setattr(written, "_edited", lambda *_: "supply.voltage = 1\n[supply]\n")
    text = with_fields(scenario, {"supply.voltage": "30 V"}, "changed")
    assert text.startswith("# changed\n\n# Comments of the original file could not be kept.\n")
    assert Scenario.from_text(text).hash == scenario.change({"supply.voltage": "30 V"}).hash
