# SPDX-License-Identifier: GPL-3.0-or-later
"""Set-up in made-up checkouts; apt-get, venv and pip are stood in for, the script itself is really started."""

from __future__ import annotations

import ast
import json
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import Path

import pytest

from heatsim import bootstrap
from heatsim.bootstrap import FOREIGN, OUTDATED, READY, UNUSABLE, Checkout, Machine, SetupFailure

NOTHING_MISSING = Machine(
    system="Linux",
    apt=True,
    sudo=True,
    admin=False,
    terminal=True,
    library="libngspice.so.0",
    simulator=True,
    ensurepip=True,
    pip=False,
)
FRESH = NOTHING_MISSING._replace(library="", simulator=False, ensurepip=False)
VENV_PACKAGE = f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"


@pytest.fixture
def bare(tmp_path: Path, checkout: Path) -> Checkout:
    """A checkout with nothing set up; its bootstrap is a copy of ours."""
    for name in ("pyproject.toml", ".ci/constraints.txt", "heatsim/bootstrap.py"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        shutil.copy(checkout / name, tmp_path / name)
    return Checkout(tmp_path)


class Recorder:
    """Stands in for running commands: notes them, leaves the files venv would leave, fails where told."""

    def __init__(self, checkout: Checkout, fails_at: str = "") -> None:
        self.checkout, self.fails_at = checkout, fails_at
        self.commands: list[str] = []

    def __call__(self, command: Sequence[str]) -> None:
        self.commands.append(" ".join(command))
        if self.fails_at and self.fails_at in self.commands[-1]:
            raise SetupFailure("planted failure")
        if "venv" in command:
            self.checkout.python.parent.mkdir(parents=True)
            for name in ("python", "pip"):
                self.checkout.program(name).touch()


def set_up(bare: Checkout, dev: bool = False, machines: Iterable[Machine] = (), fails_at: str = "") -> list[str]:
    """Commands that set-up runs; `machines`: what it finds each time it looks, the last one from then on."""
    found = list(machines) or [NOTHING_MISSING]
    recorder = Recorder(bare, fails_at)
    bootstrap.ensure(bare, dev, lambda: found.pop(0) if len(found) > 1 else found[0], recorder)
    return recorder.commands


def start(bare: Checkout, *arguments: str, prelude: str = "") -> subprocess.CompletedProcess[str]:
    """Start the checkout's bootstrap as a user would; `prelude`: code that runs before it in the same Python."""
    script = str(bare.root / "heatsim" / "bootstrap.py")
    code = f"import runpy, sys; del sys.argv[0]; {prelude}\nrunpy.run_path(sys.argv[0], run_name='__main__')"
    how = ["-c", code, script] if prelude else [script]
    return subprocess.run([sys.executable, *how, *arguments], capture_output=True, text=True, cwd=bare.root.parent, timeout=60)


@pytest.fixture
def ready(bare: Checkout) -> Checkout:
    """A checkout all set up, whose heatsim and python print their arguments and folder and exit with code 7."""
    set_up(bare, dev=True)
    for name in ("heatsim", "python"):
        bare.program(name).write_text(f'#!/bin/sh\necho {name} "$@" in "$PWD"\nexit 7\n')
        bare.program(name).chmod(0o755)
    return bare


def test_a_fresh_system_is_told_what_goes_where_and_gets_just_that(bare: Checkout, capsys: pytest.CaptureFixture[str]) -> None:
    commands = set_up(bare, dev=True, machines=[FRESH, FRESH, NOTHING_MISSING])
    said, packages = capsys.readouterr(), f"libngspice0 ngspice {VENV_PACKAGE}"
    assert said.out == "", "standard output belongs to the command that follows"
    first = said.err.splitlines()
    assert first[0] == "heatsim: about to install"
    assert packages.replace(" ", ", ") in first[1] and "sudo" in first[1]
    assert str(bare.venv) in first[2] and str(bare.venv) in first[3] and "constraints.txt" in first[3]
    assert [command.split(" --")[0] for command in commands[:2]] == [
        "sudo apt-get update",
        "sudo env DEBIAN_FRONTEND=noninteractive apt-get install -y",
    ]
    assert commands[1].endswith(packages)
    assert commands[2] == f"{bootstrap.base_python()} -I -m venv {bare.venv}"
    assert commands[3] == (
        f"{bare.python} -I -m pip install --constraint {bare.root}/.ci/constraints.txt --editable {bare.root}[dev]"
    )
    assert len(commands) == 4


def test_running_heatsim_needs_neither_test_libraries_nor_the_ngspice_program(bare: Checkout) -> None:
    commands = set_up(bare, machines=[NOTHING_MISSING._replace(simulator=False)])
    assert not any("apt-get" in command for command in commands)
    assert commands[-1].endswith(f"--editable {bare.root}")
    assert len(set_up(bare, dev=True)) == 1, "the tests' libraries are added to the environment there is"


def test_root_needs_no_sudo_and_sudo_without_terminal_does_not_ask(bare: Checkout) -> None:
    missing = NOTHING_MISSING._replace(library="")
    assert set_up(bare, machines=[missing._replace(admin=True)] * 2 + [NOTHING_MISSING])[0].startswith("apt-get update")
    shutil.rmtree(bare.venv)
    asked = set_up(bare, machines=[missing._replace(terminal=False)] * 2 + [NOTHING_MISSING])
    assert asked[0].startswith("sudo -n apt-get update")


def test_without_root_and_sudo_the_administrator_gets_the_command(bare: Checkout) -> None:
    with pytest.raises(SetupFailure, match="(?s)administrator.*apt-get install .*libngspice0$"):
        set_up(bare, machines=[NOTHING_MISSING._replace(library="", sudo=False)])


def test_stale_package_lists_do_not_stop_set_up(bare: Checkout, capsys: pytest.CaptureFixture[str]) -> None:
    missing = NOTHING_MISSING._replace(library="")
    assert len(set_up(bare, machines=[missing, missing, NOTHING_MISSING], fails_at="apt-get update")) == 4
    assert "planted failure" in capsys.readouterr().err


def test_a_package_not_found_in_stale_lists_is_blamed_on_the_lists(bare: Checkout) -> None:
    with pytest.raises(SetupFailure, match="lists could not be renewed before: planted failure"):
        set_up(bare, machines=[NOTHING_MISSING._replace(library="")], fails_at="apt-get")


def test_a_library_that_does_not_appear_is_an_error(bare: Checkout) -> None:
    with pytest.raises(SetupFailure, match="Still not found after installing: libngspice0"):
        set_up(bare, machines=[NOTHING_MISSING._replace(library="")])


def test_pip_of_the_system_furnishes_the_environment_when_ensurepip_is_missing(bare: Checkout) -> None:
    commands = set_up(bare, machines=[NOTHING_MISSING._replace(ensurepip=False, pip=True)])
    assert commands[0].endswith(f"venv {bare.venv} --without-pip")
    assert commands[1].endswith(f"-m pip --python {bare.python} install pip")


@pytest.mark.parametrize(
    ("system", "words"),
    [
        ("Darwin", ["brew install libngspice", "not tested on macOS"]),
        ("Windows", ["WSL", "NGSPICE_LIBRARY_PATH", "ngspice.dll", "not tested on Windows"]),
        ("Linux", ["libngspice0", "package manager", "Debian 12 and 13 only"]),
    ],
)
def test_systems_without_apt_are_told_what_to_install_by_hand(bare: Checkout, system: str, words: list[str]) -> None:
    machine = NOTHING_MISSING._replace(system=system, apt=False, library="")
    with pytest.raises(SetupFailure) as failure:
        set_up(bare, machines=[machine])
    assert not [word for word in words if word not in str(failure.value)]
    assert not bare.venv.exists(), "nothing is installed before the missing part is there"
    assert len(set_up(bare, machines=[machine._replace(library="libngspice.dylib")])) == 2, "once it is, set-up goes on"


def test_nothing_is_done_twice(bare: Checkout) -> None:
    assert bootstrap.environment_state(bare, dev=False) == UNUSABLE
    set_up(bare)
    assert bootstrap.environment_state(bare, dev=False) == READY
    assert bootstrap.environment_state(bare, dev=True) == OUTDATED
    assert set_up(bare) == []


@pytest.mark.parametrize("changed", ["pyproject.toml", ".ci/constraints.txt"])
def test_changed_requirements_are_installed_without_losing_the_tests_libraries(bare: Checkout, changed: str) -> None:
    set_up(bare, dev=True)
    with (bare.root / changed).open("a") as handle:
        handle.write("# changed\n")
    commands = set_up(bare)
    assert len(commands) == 1 and commands[0].endswith("[dev]")
    assert set_up(bare, dev=True) == []


@pytest.mark.parametrize(("key", "value"), [("python", "3.10"), ("root", "elsewhere")])
def test_another_python_or_a_moved_checkout_means_a_new_environment(bare: Checkout, key: str, value: str) -> None:
    set_up(bare)
    (bare.venv / "left-over").touch()
    bare.stamp.write_text(json.dumps({**json.loads(bare.stamp.read_text()), key: value}))
    assert len(set_up(bare)) == 2
    assert not (bare.venv / "left-over").exists()


def test_an_environment_whose_python_is_gone_is_made_afresh(bare: Checkout) -> None:
    set_up(bare)
    bare.python.unlink()
    bare.python.symlink_to(bare.root / "no-longer-there")
    assert len(set_up(bare)) == 2


@pytest.mark.parametrize("fails_at", ["-m venv", "-m pip"])
def test_interrupted_set_up_starts_afresh(bare: Checkout, fails_at: str) -> None:
    with pytest.raises(SetupFailure, match="planted"):
        set_up(bare, fails_at=fails_at)
    (bare.venv / "half-made").touch()
    assert bootstrap.environment_state(bare, dev=False) == UNUSABLE
    assert len(set_up(bare)) == 2
    assert not (bare.venv / "half-made").exists() and not bare.unfinished.exists()


def test_interrupted_update_starts_afresh(bare: Checkout) -> None:
    set_up(bare)
    with pytest.raises(SetupFailure, match="planted"):
        set_up(bare, dev=True, fails_at="-m pip")
    assert bootstrap.environment_state(bare, dev=False) == UNUSABLE


def test_an_environment_made_by_other_hands_is_used_if_it_suits_and_never_deleted(bare: Checkout) -> None:
    bare.python.parent.mkdir(parents=True)
    for name in ("python", "pip"):
        bare.program(name).touch()
    configuration = bare.venv / "pyvenv.cfg"
    configuration.write_text(f"home = somewhere\nversion = {bootstrap.RELEASE}.9\n")
    assert bootstrap.environment_state(bare, dev=False) == OUTDATED
    configuration.write_text("home = somewhere\nversion = 3.1.4\n")
    assert bootstrap.environment_state(bare, dev=False) == FOREIGN
    with pytest.raises(SetupFailure, match="Move it away"):
        set_up(bare)
    assert configuration.exists()


@pytest.mark.parametrize(
    ("output", "words"),
    [
        ("Temporary failure resolving 'mirror'", "No connection to the package server"),
        (
            "NewConnectionError(': Failed to establish a new connection: [Errno 101] Network is unreachable')",
            "No connection to the package server",
        ),
        ("ERROR: [Errno 28] No space left on device", "disk is full"),
        ("sudo: a password is required", "needs an administrator"),
        ("E: Unable to locate package libngspice0", "universe"),
        ("error: subprocess-exited-with-error", "see its output above"),
    ],
)
def test_failed_commands_are_shown_and_explained(output: str, words: str, capsys: pytest.CaptureFixture[str]) -> None:
    code = f"import sys; print({output!r}); print('last words', file=sys.stderr); sys.exit(100)"
    with pytest.raises(SetupFailure, match=words) as failure:
        bootstrap.run([sys.executable, "-c", code])
    assert "exit code 100" in str(failure.value)
    said = capsys.readouterr()
    assert output in said.err and "last words" in said.err and said.out == ""


def test_the_command_takes_over_with_its_arguments_folder_and_exit_code(ready: Checkout) -> None:
    done = start(ready, "check", "some file.toml", "--json", "-")
    assert done.stdout == f"heatsim check some file.toml --json - in {ready.root.parent}\n"
    assert (done.returncode, done.stderr) == (7, "")


@pytest.mark.parametrize(
    ("given", "run"),
    [
        (["test"], "-n 2 --dist loadfile -m not slow"),
        (["release"], "-n 2 --dist loadfile -m slow"),
        (["test", "-k", "choke"], "-n 2 --dist loadfile -m not slow -k choke"),
        (["test", "-n0", "-m", "slow"], "-n0 -m slow"),
    ],
)
def test_each_layer_of_tests_runs_in_the_checkout(ready: Checkout, given: list[str], run: str) -> None:
    done = start(ready, *given)
    assert done.stdout == f"python -m pytest {run} in {ready.root}\n"
    assert done.returncode == 7


def test_the_documentation_is_built_by_the_environment(ready: Checkout) -> None:
    done = start(ready, "docs", "a folder")
    assert done.stdout == f"python -m heatsim.docs a folder in {ready.root.parent}\n"
    assert (done.returncode, done.stderr) == (7, "")


def test_a_second_start_runs_next_to_nothing(ready: Checkout) -> None:
    """Few other programs, no network module: that, not a clock, keeps the second start far below two seconds."""
    prelude = (
        "names = ('subprocess.Popen', 'os.posix_spawn', 'os.fork', 'os.system', 'socket.connect');"
        "sys.addaudithook(lambda event, args: event in names and print('STARTS', args, file=sys.stderr));"
        "sys.addaudithook(lambda event, args: event == 'os.exec' and print('LOADED', len(sys.modules),"
        " 'ssl' in sys.modules, file=sys.stderr))"
    )
    done = start(ready, "check", prelude=prelude)
    lines = done.stderr.splitlines()
    started = sum(line.startswith("STARTS") for line in lines)
    assert 1 <= started <= 2, f"it may ask the loader for libngspice, not more: {lines}"
    loaded, ssl = lines[-1].split()[1:]
    assert int(loaded) < 150 and ssl == "False"


def test_names_in_this_folder_do_not_hide_the_standard_library(ready: Checkout) -> None:
    for name in ("json", "hashlib", "platform", "typing", "quantity", "subprocess", "pathlib", "ctypes"):
        (ready.root / "heatsim" / f"{name}.py").write_text("raise SystemExit('the wrong module')\n")
    assert start(ready, "check").stdout.startswith("heatsim check")


@pytest.mark.parametrize("version", [(3, 10, 13), (3, 6, 0)])
def test_an_old_python_is_told_so(bare: Checkout, version: tuple[int, int, int]) -> None:
    done = start(bare, "check", prelude=f"sys.version_info = {version}")
    assert done.returncode == bootstrap.FAILED
    assert done.stderr.startswith(f"heatsim needs Python 3.11 or newer; this is Python 3.{version[1]} (")
    assert done.stdout == "" and not bare.venv.exists()


def test_an_old_python_can_read_the_script(checkout: Path) -> None:
    source = (checkout / "heatsim" / "bootstrap.py").read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 7))
    assert "from __future__ import annotations" not in source, "Python 3.6 stops at it without our message"


def test_setup_failure_is_exit_code_3(bare: Checkout) -> None:
    (bare.root / ".ci" / "constraints.txt").unlink()
    done = start(bare, "check")
    assert done.returncode == 3 and "is no checkout of heatsim" in done.stderr


def test_help_sets_nothing_up(bare: Checkout) -> None:
    done = start(bare, "--help")
    assert done.returncode == 0 and "bootstrap.py test" in done.stdout and not bare.venv.exists()


def test_the_library_is_looked_for_where_the_user_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    library = tmp_path / "libngspice.so"
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", str(library))
    assert bootstrap.find_library() != str(library), "a path that leads nowhere is passed over"
    library.touch()
    assert bootstrap.find_library() == str(library)


def test_two_set_ups_at_once_take_turns(bare: Checkout) -> None:
    fcntl = pytest.importorskip("fcntl")
    with (bare.root / "pyproject.toml").open() as other:
        with bootstrap.alone(bare), pytest.raises(BlockingIOError):
            fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
        fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)


def test_a_wheel_carries_models_and_demo_scenarios(checkout: Path, tmp_path: Path) -> None:
    pytest.importorskip("hatchling", reason="this environment was not made by bootstrap.py")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=checkout,
        check=True,
        capture_output=True,
    )
    held = set(zipfile.ZipFile(next(tmp_path.glob("*.whl"))).namelist())
    wanted = {f"heatsim/netlist/library/{path.name}" for path in (checkout / "netlists").glob("*.lib")}
    wanted |= {f"heatsim/scenario/demo/{path.name}" for path in (checkout / "scenarios").glob("*.toml")}
    wanted |= {
        str(path.relative_to(checkout))
        for path in (checkout / "heatsim").rglob("*")
        if path.suffix in (".py", ".csv", ".toml", ".json", ".html", ".css") and "docs" not in path.parts
    }
    assert "heatsim/bootstrap.py" in wanted and not wanted - held
    assert not [name for name in held if name.startswith("heatsim/docs")]
