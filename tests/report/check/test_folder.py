# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder: every file promised, readable again, whole or not there, and nothing stale."""

import csv
import json
import os
import re

import numpy as np
import pytest

from heatsim.report.base.aside import Aside
from heatsim.report.check import device, figures, folder
from heatsim.report.check.folder import write_folder
from heatsim.waves import Waveforms
from tests.support.results import checks as made

PICTURES = [picture for picture in figures.PICTURES if picture.name != "capacitor-shares"]
"""Those of a heater without bars in its capacitor bank."""


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    out = tmp_path_factory.mktemp("report") / "deep" / "er"
    told = []
    return out, write_folder(made.result(), out, told.append, png=True), told


def test_every_file_promised_is_there_and_listed(written):
    out, paths, _ = written
    names = {path.name for path in paths}
    assert {"results.json", "report.html"} <= names
    for case in ("idle", "loaded"):
        assert {f"{case}-{name}" for name in ("netlist.cir", "waveforms.npz", "last-periods.csv")} <= names
        assert {f"{case}-{name}.{kind}" for name in (*(p.name for p in PICTURES), "circuit") for kind in ("svg", "png")} <= names
    assert {f"{name}.{kind}" for name, *_ in device.PICTURES for kind in ("svg", "png")} <= names
    assert names == {path.name for path in out.iterdir()}


def test_progress_is_told(written):
    assert written[2] == ["drawing", "writing the report"]


def test_results_are_the_results(written):
    found = json.loads((written[0] / "results.json").read_text(encoding="utf-8"))
    assert found == json.loads(json.dumps(made.result().as_dict() | {"remedies": None}))


def test_the_netlist_is_the_one_that_ran(written):
    text = (written[0] / "loaded-netlist.cir").read_text(encoding="utf-8")
    assert text == made.result()["loaded"].deck.text and text.rstrip().endswith(".end")


def test_the_waveforms_come_back(written):
    again, run = Waveforms.load_npz(written[0] / "loaded-waveforms.npz"), made.result()["loaded"].waveforms
    assert again.names == run.names and np.array_equal(again.time, run.time)
    np.testing.assert_allclose(again["tank.voltage"], run["tank.voltage"], rtol=1e-6, atol=1e-6)


def test_the_csv_holds_the_last_six_periods_of_every_signal(written):
    with (written[0] / "loaded-last-periods.csv").open(encoding="utf-8") as handle:
        head, *rows = csv.reader(handle)
    run = made.result()["loaded"].waveforms
    assert head == ["time [s]", *(f"{name} [{run.units[name]}]" for name in run.names)]
    table = np.array(rows, dtype=float)
    assert table[-1, 0] - table[0, 0] == pytest.approx(6 / made.FREQUENCY) and table[-1, 0] == pytest.approx(run.time[-1])
    column = head.index("choke.left.current [A]")
    np.testing.assert_allclose(table[:, column], np.interp(table[:, 0], run.time, run["choke.left.current"]), rtol=1e-5)


def test_without_png_all_else_is_the_same(written, tmp_path):
    plain = {path.name: path.read_bytes() for path in write_folder(made.result(), tmp_path)}
    everything = {path.name: path.read_bytes() for path in written[1]}
    assert plain == {name: content for name, content in everything.items() if not name.endswith(".png")}


@pytest.mark.parametrize("dies", [False, True])
def test_a_process_that_draws_aside_changes_nothing(written, tmp_path, monkeypatch, dies):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    with Aside() as aside:
        aside.split_off()
        aside.begin(folder.load, made.result().cases[0].heater)
        if dies:
            aside.begin(os._exit, 3)
        paths = write_folder(made.result(), tmp_path, png=True, aside=aside)
    assert {path.name: path.read_bytes() for path in paths} == {path.name: path.read_bytes() for path in written[1]}


def test_pictures_are_pictures(written):
    paths = list(written[0].glob("*.png"))
    assert len(paths) == len(list(written[0].glob("*.svg"))) > 20
    for path in paths:
        head, wide = path.read_bytes()[:24], 1056 if path.stem.endswith("-circuit") else 896
        assert head[:8] == b"\x89PNG\r\n\x1a\n" and int.from_bytes(head[16:20], "big") == wide
    assert all("</svg>" in path.read_text(encoding="utf-8") for path in written[0].glob("*.svg"))


def test_the_page_holds_every_picture(written):
    text = (written[0] / "report.html").read_text(encoding="utf-8")
    text = re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)
    assert text.count("<svg") == 2 * (len(PICTURES) + 1) + len(device.PICTURES)
    assert all(picture.caption.split("'")[0] in text for picture in PICTURES)
    assert not re.search(r'(?:src|href)="(?!#)', text) and len(text) < 1_500_000


@pytest.mark.parametrize(
    ("outcome", "signals"),
    [("latched", None), ("dead", ("tank.voltage",)), ("stalled", ("choke.left.current",)), ("unsolved", "no waveforms")],
)
def test_cases_that_came_to_nothing_leave_what_there_is(outcome, signals, tmp_path):
    waves = None if signals == "no waveforms" else made.waveforms(periods=12, signals=signals)
    names = {path.name for path in write_folder(made.result(made.failed("loaded", outcome, waves)), tmp_path)}
    assert {"results.json", "report.html", "loaded-netlist.cir", "loaded-choke-curves.svg"} <= names
    assert ("loaded-waveforms.npz" in names) == ("loaded-startup.svg" in names) == (waves is not None)
    assert "loaded-harmonics.svg" not in names and "loaded-power.svg" not in names
    assert outcome in (tmp_path / "report.html").read_text(encoding="utf-8")


def test_old_pictures_of_a_case_do_not_stay_beside_new_numbers(tmp_path):
    write_folder(made.result(made.case()), tmp_path, png=True)
    (tmp_path / "loaded-notes.txt").write_text("mine")
    (tmp_path / "other-tank.png").write_text("of another case")
    write_folder(made.result(made.failed("loaded", "unsolved")), tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {
        "results.json",
        "report.html",
        "loaded-netlist.cir",
        "loaded-choke-curves.svg",
        "loaded-circuit.svg",
        *(f"{name}.svg" for name, *_ in device.PICTURES),
        "loaded-notes.txt",
        "other-tank.png",
    }


def test_a_file_is_whole_or_the_old_one(tmp_path, monkeypatch):
    path = tmp_path / "results.json"
    path.write_text("old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="No space"):
        write_folder(made.result(made.failed("loaded", "unsolved")), tmp_path)
    assert path.read_text() == "old"


def test_names_of_cases_cannot_leave_the_folder():
    assert folder.stem(made.case(name="../../etc/x y")) == "______etc_x_y"
