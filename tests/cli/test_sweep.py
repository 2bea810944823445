# SPDX-License-Identifier: GPL-3.0-or-later
"""`heatsim sweep` as a user meets it: runs, resumes after any end, shows, exports, draws; never a traceback."""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path
from types import SimpleNamespace

import pytest

from heatsim.cli import main
from heatsim.studies.store import Store
from tests.cli.conftest import QUICK
from tests.support import commands
from tests.support.processes import gone, heed_interrupts, ignore_interrupts, wait_until

VOLTAGES = ["--vary", "supply.voltage = 24 V to 46 V by 2 V"]


@pytest.fixture
def heatsim(tmp_path: Path, monkeypatch, capsys):
    """Run the command in this process, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "120")

    def run(*arguments):
        code = main(["sweep", *map(str, arguments)])
        out, err = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=out, stderr=err)

    return run


@pytest.fixture
def started(tmp_path: Path):
    """Start the command in an empty folder, in a process group of its own."""
    running = []

    def start(*arguments, background=False):
        before = ignore_interrupts if background else heed_interrupts
        running.append(commands.started("sweep", *arguments, cwd=tmp_path, before=before))
        return running[-1]

    yield start
    for process in running:
        if process.poll() is None:
            process.kill()
        process.communicate()


def done_in(store: Path) -> int:
    """Points with a result."""
    if not store.exists():
        return 0
    with Store.open(store, create=False) as opened:
        return sum(told.done for told in opened.sweeps())


def wait_for(store: Path, count: int) -> None:
    """Until the store has so many results."""
    assert wait_until(lambda: done_in(store) >= count, 60), "the sweep does not get on"


def test_a_sweep_from_file_to_pictures(heatsim, sound, tmp_path) -> None:
    plan = ["--vary", "supply.voltage = 30 V, 42 V"]
    done = heatsim(sound, *QUICK, *plan, "--plot", "--export", "points.csv")
    assert done.returncode == 0, done.stderr
    assert "2 of 2 points" in done.stdout and "least headroom" in done.stdout
    assert f"Written: {Path('results/bench-heater-sweep/report.html')}, and 2 more beside it" in done.stdout
    assert (tmp_path / "results" / "bench-heater-sweep" / "sweep-1.png").stat().st_size > 10_000
    rows = (tmp_path / "points.csv").read_text().splitlines()
    assert len(rows) == 3 and "tank.peak_voltage_v" in rows[0]
    again = heatsim(sound, *QUICK, *plan, "--json", "-")
    told = json.loads(again.stdout)
    assert (told["evaluated"], told["done"], told["total"], told["failed"]) == (0, 2, 2, 0)
    assert told["schema"] == "heatsim.sweep/1" and told["worst"]["headroom"] == pytest.approx(0.21, abs=0.02)
    store = tmp_path / told["store"]
    shown = heatsim("--status", store)
    assert shown.returncode == 0 and "supply voltage" in shown.stdout and "bench-heater.toml" in shown.stdout
    assert json.loads(heatsim("--status", store, "--json", "-").stdout)["sweeps"][0]["done"] == 2
    table = heatsim("--store", store, "--export", "again.parquet", "--plot", "--out", "pictures")
    assert table.returncode == 0 and (tmp_path / "again.parquet").exists() and (tmp_path / "pictures" / "sweep-1.svg").exists()


@pytest.mark.slow
def test_quiet_prints_nothing(sound, tmp_path) -> None:
    done = commands.heatsim("sweep", sound, *QUICK, "--vary", "supply.voltage = 42 V", "--quiet", cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


@pytest.mark.slow
def test_a_killed_sweep_goes_on_where_it_was(heatsim, started, sound, tmp_path) -> None:
    store = tmp_path / "points.db"
    process = started(sound, *QUICK, *VOLTAGES, "--store", store)
    wait_for(store, 3)
    workers = commands.children(process.pid)
    assert workers, "there are worker processes"
    process.send_signal(signal.SIGKILL)
    process.communicate()
    kept = done_in(store)
    assert 3 <= kept < 12
    assert all(gone(pid) for pid in workers), "the workers outlive the command"
    done = heatsim(sound, *QUICK, *VOLTAGES, "--store", store, "--json", "-")
    told = json.loads(done.stdout)
    assert (told["done"], told["total"]) == (12, 12) and told["evaluated"] == 12 - kept
    with Store.open(store, create=False) as opened:
        opened.check()
        assert len(opened.frame(1)) == 12


@pytest.mark.slow
@pytest.mark.parametrize("background", [False, True])
def test_control_c_or_kill_ends_cleanly_and_says_how_to_go_on(heatsim, started, sound, tmp_path, background) -> None:
    """A job in the background has Ctrl-C ignored; kill ends it as Ctrl-C does others."""
    store = tmp_path / "points.db"
    process = started(sound, *QUICK, *VOLTAGES, "--store", store, background=background)
    wait_for(store, 1)
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: to the workers as well
    if background:
        wait_for(store, 2)
        process.terminate()
    out, err = process.communicate(timeout=20)
    assert process.returncode == 130 and "Traceback" not in err + out
    err = " ".join(err.split())
    assert "interrupted" in err and "Run the same command again to continue" in err and "of 12 points" in err
    kept = done_in(store)
    done = heatsim(sound, *QUICK, *VOLTAGES, "--store", store, "--json", "-")
    assert json.loads(done.stdout)["evaluated"] == 12 - kept


@pytest.mark.slow
def test_two_commands_on_one_store_share_the_work(started, sound, tmp_path) -> None:
    store = tmp_path / "points.db"
    both = [started(sound, *QUICK, *VOLTAGES, "--store", store, "--jobs", 1, "--json", f"{k}.json") for k in range(2)]
    errors = [process.communicate(timeout=100)[1] for process in both]
    assert [process.returncode for process in both] == [0, 0], errors
    told = [json.loads((tmp_path / f"{k}.json").read_text()) for k in range(2)]
    assert [one["done"] for one in told] == [12, 12] and sum(one["evaluated"] for one in told) == 12


def test_an_interrupted_sweep_leaves_a_page_of_what_is_done(swept, tmp_path, monkeypatch, capsys) -> None:
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("heatsim.studies.sweep.sweep", interrupted)
    assert main([*swept, "--out", str(tmp_path / "out")]) == 130
    err = " ".join(capsys.readouterr().err.split())
    assert "Run the same command again to continue. What is done so far:" in err and "report.html" in err
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["report.html"]
    assert main(["sweep", swept[1], "--vary", "choke.turns = 18", *swept[-4:-2], "--out", str(tmp_path / "none")]) == 130
    assert "What is done so far" not in capsys.readouterr().err and not (tmp_path / "none").exists(), (
        "another sweep has no points yet"
    )


def test_points_without_a_result_are_told_and_do_not_stop_the_rest(heatsim, sound) -> None:
    done = heatsim(sound, *QUICK, "--vary", "choke.turns = 20, 900", "--store", "points.db")
    assert done.returncode == 1
    assert "2 of 2 points · 1 without a result" in done.stdout and "does not fit the bore" in " ".join(done.stdout.split())


@pytest.mark.parametrize(("arguments", "words"), [
    (["--vary", "suply.voltage = 24 V"], ["axis suply.voltage", "did you mean supply.voltage"]),
    (["--vary", "supply.voltage = 24 V to 600 V in 5"], ["axis supply.voltage", "600 V", "5 V to 400 V"]),
    (["--vary", "supply.voltage = 24 V", "--keep", "some"], ["--keep", "none, all, failing"]),
    ([], ["nothing to vary"]),
    (["--vary", "supply.voltage = 24 V", "--jobs", "2", "--cluster", "tcp://10.0.0.5:8786"], ["--jobs", "--cluster"]),
])  # fmt: skip
def test_what_cannot_be_swept_exits_with_2(heatsim, sound, arguments, words) -> None:
    done = heatsim(sound, *QUICK, *arguments)
    assert done.returncode == 2 and "Traceback" not in done.stderr
    assert all(word in done.stderr for word in words), done.stderr


def test_a_store_that_is_none_exits_with_2(heatsim, tmp_path) -> None:
    (tmp_path / "notes.db").write_text("not a database at all, but long enough to be one" * 40)
    for arguments in (["--status", "absent.db"], ["--status", "notes.db"], ["--store", "absent.db", "--plot"]):
        done = heatsim(*arguments)
        assert done.returncode == 2 and "Traceback" not in done.stderr and "heatsim:" in done.stderr


def test_a_map_in_a_store_is_not_drawn_as_a_sweep(tmp_path, capsys):
    plan = {
        "scenario": {"file": "a.toml", "name": "a", "sha256": "0" * 64, "changes": {}},
        "cases": ["loaded"],
        "groups": [],
        "samples": None,
        "map": {"schema": "heatsim.map/1", "axes": []},
    }
    with Store.open(tmp_path / "points.db") as store:
        store.begin(plan, [])
    assert main(["sweep", "--store", str(tmp_path / "points.db"), "--plot"]) == 2
    assert "heatsim map FILE draws it again" in capsys.readouterr().err
