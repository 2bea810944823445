# SPDX-License-Identifier: GPL-3.0-or-later
"""Set heatsim up in its checkout and run it; needs nothing but Python 3.11 or newer.

    python3 heatsim/bootstrap.py check scenarios/bench-heater.toml    any heatsim command
    python3 heatsim/bootstrap.py test [pytest arguments]              the tests that guard a change, some minutes
    python3 heatsim/bootstrap.py release [pytest arguments]           the long ones that guard a release
    python3 heatsim/bootstrap.py docs [folder]                        the documentation site, into results/docs/html
    python3 heatsim/bootstrap.py setup [--dev]                        set up only (--dev: for tests and documentation too)

What is missing is installed first, after saying what and where: libngspice as a Debian package, the Python
libraries into `.venv` in the checkout. When nothing is missing the command starts at once. Exit code: the
command's own, or 3 when set-up failed.

Standard library only, and written so that old Pythons can read it far enough to say that they are too old.
"""

import os
import sys

# Started as a script, Python looks for modules in this folder first; its names must not hide the library's.
_FOLDER = os.path.dirname(os.path.realpath(__file__))
sys.path[:] = [entry for entry in sys.path if os.path.realpath(entry or os.curdir) != _FOLDER]

if sys.version_info < (3, 11):  # noqa: UP036
    sys.stderr.write(
        "heatsim needs Python 3.11 or newer; this is Python %d.%d (%s).\n"  # noqa: UP031
        % (sys.version_info[0], sys.version_info[1], sys.executable)
        + "Debian 12, Ubuntu 24.04 and later have one as python3. Elsewhere install Python 3.11 or newer and start\n"
        "this script with it, for example: python3.11 heatsim/bootstrap.py\n"
    )
    sys.exit(3)

import ctypes.util
import hashlib
import importlib.util
import json
import platform
import shutil
import subprocess
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

FAILED = 3
"""Exit code when set-up failed: nothing could be simulated."""

RELEASE = ".".join(platform.python_version_tuple()[:2])
"""This Python's, such as "3.11"."""

READY, OUTDATED, UNUSABLE, FOREIGN = "ready", "outdated", "unusable", "foreign"
"""States of `.venv`: nothing to do; libraries to be installed; to be made afresh; not ours and of no use."""

LAYERS = {"test": "not slow", "release": "slow"}
"""Commands that run tests, and which marks they choose."""

DOCS = "docs"
"""The command that builds the documentation."""

CAUSES = {
    "failed to establish a new connection|temporary failure|could not resolve|connection refused|could not connect|cannot connect|"
    "unable to connect|network is unreachable|no route to host|timed out|proxyerror": "\nNo connection to the package server. "
    "Check the network and proxy settings, then give the same command again.",
    "no space left on device": "\nThe disk is full. Make room, then give the same command again.",
    "sudo:": "\nThis needs an administrator: start it from a terminal, or have one run that command without sudo -n.",
    "unable to locate package|has no installation candidate": "\nThe package is not in this system's sources. "
    "On Ubuntu the part `universe` must be switched on.",
}
"""What a failed command says, in pieces parted by `|`, and what that points to."""

Run = Callable[[Sequence[str]], None]
"""Runs one command; raises SetupFailure when it fails."""


class SetupFailure(Exception):
    """Set-up cannot go on; the message says why and what to do."""


class Machine(NamedTuple):
    """What decides how set-up goes on this machine.

    system: "Linux", "Darwin" or "Windows"; apt, sudo: whether there is apt-get, sudo; admin: whether packages can be
    installed without sudo; terminal: whether sudo can ask for a password; library: name or path of libngspice, empty
    if there is none; simulator: whether the program ngspice is on the path; ensurepip, pip: whether this Python can
    furnish an environment with pip by itself, or has a pip that can.
    """

    system: str
    apt: bool
    sudo: bool
    admin: bool
    terminal: bool
    library: str
    simulator: bool
    ensurepip: bool
    pip: bool


class Checkout:
    """The checkout at `root` and the places set-up uses in it: the environment and its Python, a stamp that is written last
    and says what the environment was made from, a mark that is there while the environment is being changed and after an
    interruption, and the pinned versions.
    """

    def __init__(self, root: Path) -> None:
        self.root, self.venv = root, root / ".venv"
        self.stamp, self.unfinished = self.venv / "heatsim-setup.json", self.venv / "heatsim-setup-unfinished"
        self.constraints = root / ".ci" / "constraints.txt"
        self.python = self.program("python")

    def program(self, name: str) -> Path:
        """A program of the environment."""
        windows = os.name == "nt"
        return self.venv / ("Scripts" if windows else "bin") / (name + (".exe" if windows else ""))


def base_python() -> str:
    """The Python that environments are made with: this one, or the one that this environment was made with."""
    return str(getattr(sys, "_base_executable", None) or sys.executable)


def find_library() -> str:
    """Name or path of libngspice, empty if it is not found: NGSPICE_LIBRARY_PATH, the loader's places, Homebrew's."""
    told = os.environ.get("NGSPICE_LIBRARY_PATH", "")
    found = told if os.path.exists(told) else ctypes.util.find_library("ngspice")
    if found:
        return found
    brewed = (Path(prefix, "lib", "libngspice.dylib") for prefix in ("/opt/homebrew", "/usr/local"))
    return next((str(path) for path in brewed if path.exists()), "")


def look() -> Machine:
    """The machine this runs on."""
    apt, sudo, simulator = (shutil.which(program) is not None for program in ("apt-get", "sudo", "ngspice"))
    venv, ensurepip, pip = (importlib.util.find_spec(module) is not None for module in ("venv", "ensurepip", "pip"))
    admin, terminal = hasattr(os, "geteuid") and os.geteuid() == 0, sys.stdin.isatty()
    return Machine(
        system=platform.system(),
        apt=apt,
        sudo=sudo,
        admin=admin,
        terminal=terminal,
        library=find_library(),
        simulator=simulator,
        ensurepip=venv and ensurepip,
        pip=venv and pip,
    )


def fingerprint(checkout: Checkout) -> dict[str, str]:
    """What the environment is made from: Python's release, place of the checkout, hash of the files that rule it."""
    files = (checkout.root / "pyproject.toml", checkout.constraints, Path(__file__))
    digest = hashlib.sha256(b"\0".join(path.read_bytes() for path in files)).hexdigest()
    return {"python": RELEASE, "root": str(checkout.root), "inputs": digest}


def read_stamp(checkout: Checkout) -> dict[str, str]:
    """What the environment was made from; empty if that is not known."""
    try:
        stamp = json.loads(checkout.stamp.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return stamp if isinstance(stamp, dict) else {}


def environment_state(checkout: Checkout, dev: bool) -> str:
    """READY, OUTDATED, UNUSABLE or FOREIGN; `dev`: whether the libraries for tests are needed too."""
    if not checkout.venv.exists() or checkout.unfinished.exists():
        return UNUSABLE
    stamp, now = read_stamp(checkout), fingerprint(checkout)
    if not stamp:
        return OUTDATED if fits(checkout) else FOREIGN
    same_place = all(stamp.get(key) == now[key] for key in ("python", "root"))
    if not same_place or not checkout.python.exists():
        return UNUSABLE
    return READY if stamp.get("inputs") == now["inputs"] and (not dev or stamp.get("dev")) else OUTDATED


def fits(checkout: Checkout) -> bool:
    """Whether an environment made by other hands can be used: this Python's release, with pip."""
    try:
        lines = (checkout.venv / "pyvenv.cfg").read_text(encoding="utf-8").splitlines()
    except OSError:
        return False
    made_with = dict(line.replace(" ", "").split("=", 1) for line in lines if "=" in line)
    right_release = f"{made_with.get('version', '')}.".startswith(RELEASE + ".")
    return right_release and checkout.python.exists() and checkout.program("pip").exists()


def missing_packages(machine: Machine, state: str, dev: bool) -> list[str]:
    """Debian packages that are needed and not there."""
    packages = [] if machine.library else ["libngspice0"]
    if dev and not machine.simulator:
        packages.append("ngspice")
    if state == UNUSABLE and not machine.ensurepip and not machine.pip:
        packages.append(f"python{RELEASE}-venv")
    return packages


def plan(checkout: Checkout, machine: Machine, state: str, dev: bool) -> list[str]:
    """What set-up is about to install and where, one line an item; empty if nothing."""
    lines = []
    packages = missing_packages(machine, state, dev)
    if packages and machine.apt:
        how = "apt-get" if machine.admin else "sudo apt-get, which may ask for your password"
        lines.append(f"on this system, with {how}: {', '.join(packages)}")
    if state == UNUSABLE:
        again = " (the one there is half-made or of another Python, and is deleted)" if checkout.venv.exists() else ""
        lines.append(f"in {checkout.venv}: an environment of Python {RELEASE}{again}")
    if state in (UNUSABLE, OUTDATED):
        what, size = ("heatsim, its libraries and those for tests", 650) if dev else ("heatsim and its libraries", 460)
        lines.append(f"in {checkout.venv}: {what}, versions as in {checkout.constraints}; about {size} MB in all")
    return lines


def by_hand(machine: Machine, packages: Sequence[str]) -> str:
    """What to install by hand where there is no apt-get."""
    return {
        "Darwin": "install libngspice with Homebrew: brew install libngspice\n"
        "(for the tests also: brew install ngspice). heatsim is not tested on macOS.",
        "Windows": "heatsim is not tested on Windows itself. Best use WSL with Debian or Ubuntu, where this command does\n"
        "everything. Otherwise unpack the ngspice shared library for 64-bit Windows (ngspice-NN_dll_64, from\n"
        "the ngspice project's downloads) and set NGSPICE_LIBRARY_PATH to the full path of its ngspice.dll.",
    }.get(
        machine.system,
        f"install {', '.join(packages)} (Debian's names) with this system's package manager; the shared library\n"
        "libngspice.so is what counts. heatsim is tested on Debian 12 and 13 only.",
    )


def say(text: str) -> None:
    """Tell the user on standard error; standard output belongs to the command."""
    print(text, file=sys.stderr, flush=True)


def run(command: Sequence[str]) -> None:
    """Run one command, showing what it says on standard error; SetupFailure tells its likely cause."""
    say("+ " + " ".join(command))
    tail: deque[str] = deque(maxlen=400)
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace") as process:
        assert process.stdout is not None
        for line in process.stdout:
            sys.stderr.write(line)
            tail.append(line)
    if process.returncode:
        text = "".join(tail).lower()
        causes = (told for signs, told in CAUSES.items() if any(sign in text for sign in signs.split("|")))
        cause = next(causes, "; see its output above")
        raise SetupFailure(f"{' '.join(command)}\nended with exit code {process.returncode}{cause}")


def install_packages(machine: Machine, packages: Sequence[str], run: Run) -> None:
    """Install Debian packages; SetupFailure when there is no way to."""
    if not machine.apt:
        raise SetupFailure(f"Not found: {', '.join(packages)}. To go on, {by_hand(machine, packages)}")
    install = ["apt-get", "install", "-y", "--no-install-recommends", "-o", "DPkg::Lock::Timeout=300", *packages]
    if not machine.admin and not machine.sudo:
        raise SetupFailure("This needs an administrator, and there is no sudo. Ask one to run:\n" + " ".join(install))
    prefix = [] if machine.admin else ["sudo"] if machine.terminal else ["sudo", "-n"]
    stale = ""
    try:
        run([*prefix, "apt-get", "update", "--error-on=any"])
    except SetupFailure as failure:
        stale = f"The package lists could not be renewed before: {failure}"
        say(f"heatsim: going on with the lists that are there. {stale}")
    try:
        run([*prefix, "env", "DEBIAN_FRONTEND=noninteractive", *install])
    except SetupFailure as failure:
        raise SetupFailure(f"{failure}\n{stale}".rstrip()) from None


def make_environment(checkout: Checkout, ensurepip: bool, run: Run) -> None:
    """Make `.venv` afresh, with pip from ensurepip or, failing that, from this Python's own pip."""
    if checkout.venv.exists():
        shutil.rmtree(checkout.venv)
    checkout.venv.mkdir()
    checkout.unfinished.touch()
    make = [base_python(), "-I", "-m", "venv", str(checkout.venv)]
    if ensurepip:
        run(make)
    else:
        run([*make, "--without-pip"])
        run([base_python(), "-I", "-m", "pip", "--python", str(checkout.python), "install", "pip"])


def install_libraries(checkout: Checkout, dev: bool, run: Run) -> None:
    """Install heatsim (editable) and its pinned libraries into the environment, then stamp it."""
    checkout.unfinished.touch()
    dev = dev or bool(read_stamp(checkout).get("dev"))
    what = f"{checkout.root}[dev]" if dev else str(checkout.root)
    run([str(checkout.python), "-I", "-m", "pip", "install", "--constraint", str(checkout.constraints), "--editable", what])
    part = checkout.stamp.with_suffix(".part")
    part.write_text(json.dumps({**fingerprint(checkout), "dev": "yes" if dev else ""}), encoding="utf-8")
    os.replace(part, checkout.stamp)
    checkout.unfinished.unlink()


@contextmanager
def alone(checkout: Checkout) -> Iterator[None]:
    """Wait until no other set-up is at work in this checkout (not on Windows)."""
    if os.name == "nt":
        yield
        return
    import fcntl

    with (checkout.root / "pyproject.toml").open("rb") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def ensure(checkout: Checkout, dev: bool, look: Callable[[], Machine] = look, run: Run = run) -> str:
    """Install what heatsim or, with `dev`, its tests lack; the place of libngspice, or SetupFailure."""
    machine, state = look(), environment_state(checkout, dev)
    if state == READY and not missing_packages(machine, state, dev):
        return machine.library
    with alone(checkout):
        return set_up(checkout, dev, look, run)


def set_up(checkout: Checkout, dev: bool, look: Callable[[], Machine], run: Run) -> str:
    """Say what is missing, install it and check that it is there; the place of libngspice."""
    started, machine, state = time.monotonic(), look(), environment_state(checkout, dev)
    if state == FOREIGN:
        raise SetupFailure(
            f"{checkout.venv} was not made by this script and does not suit Python "
            f"{RELEASE}. Move it away, then give the same command again."
        )
    items = plan(checkout, machine, state, dev)
    if items:
        say("heatsim: about to install\n" + "\n".join(f"  - {item}" for item in items))
    packages = missing_packages(machine, state, dev)
    if packages:
        install_packages(machine, packages, run)
        importlib.invalidate_caches()
        machine = look()
    still = missing_packages(machine, state, dev)
    if still:
        raise SetupFailure(f"Still not found after installing: {', '.join(still)} (Python: {base_python()}).")
    if state == UNUSABLE:
        make_environment(checkout, machine.ensurepip, run)
    if state != READY:
        install_libraries(checkout, dev, run)
    say(
        f"heatsim: set up in {time.monotonic() - started:.0f} s. To undo, delete {checkout.venv}"
        + (" and remove the system packages." if packages else ".")
    )
    return machine.library


def test_command(checkout: Checkout, layer: str, arguments: Sequence[str]) -> list[str]:
    """pytest on this checkout: one layer of the tests, on two processes, unless the arguments say otherwise."""
    own = ("-n", "--numprocesses", "--pdb", "-p", "--trace", "--dist")
    spread = [] if any(argument.startswith(own) for argument in arguments) else ["-n", "2", "--dist", "loadfile"]
    chosen = [] if any(argument.startswith("-m") for argument in arguments) else ["-m", LAYERS[layer]]
    return [str(checkout.python), "-m", "pytest", *spread, *chosen, *arguments]


def hand_over(command: Sequence[str]) -> int:
    """Become `command`, so that its signals and exit code are its own; where that cannot be, run it."""
    sys.stdout.flush()
    sys.stderr.flush()
    if os.name != "nt":
        os.execv(command[0], list(command))
    return subprocess.call(command)


def main(arguments: Sequence[str]) -> int:
    """Set up if need be, then run what is asked; returns an exit code only if that did not take over."""
    checkout = Checkout(Path(_FOLDER).parent)
    if not arguments or arguments[0] in ("-h", "--help"):
        print(__doc__)
        return 0
    command, rest = arguments[0], arguments[1:]
    try:
        if not checkout.constraints.exists():
            raise SetupFailure(f"{checkout.root} is no checkout of heatsim; an installed heatsim needs no set-up.")
        library = ensure(checkout, dev=command in (*LAYERS, DOCS) or (command == "setup" and "--dev" in rest))
    except SetupFailure as failure:
        say(f"heatsim: set-up failed. {failure}")
        return FAILED
    except KeyboardInterrupt:
        say("\nheatsim: set-up interrupted; the same command starts it afresh.")
        return 130
    if os.path.isabs(library):
        os.environ["NGSPICE_LIBRARY_PATH"] = library
    if command == "setup":
        return 0
    if command in LAYERS:
        os.chdir(checkout.root)
        return hand_over(test_command(checkout, command, rest))
    if command == DOCS:
        return hand_over([str(checkout.python), "-m", "heatsim.docs", *rest])
    return hand_over([str(checkout.program("heatsim")), *arguments])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
