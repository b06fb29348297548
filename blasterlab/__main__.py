"""``python -m blasterlab``: is it installed, open the notebooks, shoot one build text.

What it is for: what a builder types without knowing Python; alone it shoots the demo builds, which also
compiles the model once and for all.  What it leaves out: everything that a notebook does better.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import time
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from blasterlab import __version__, report, tables, units
from blasterlab.bench.cap_risk import speed_cap
from blasterlab.bench.kept import event_caps, recall
from blasterlab.bench.predict import predict
from blasterlab.build import Build, demo_build, demo_builds
from blasterlab.compiled import COMPILED
from blasterlab.report.caps import cap_label
from blasterlab.report.numbers import sentence
from blasterlab.shot.many import simulate_many
from blasterlab.shot.simulate import simulate

FIRST = "00_start_here.ipynb"


def ready() -> None:
    """Shoot every demo build once, alone and together, and say so."""
    start = time.perf_counter()
    how = "compiling the model if it is new here" if COMPILED else "plain Python without numba, which is slow"
    print(f"blasterlab {__version__}: {how}, please wait", flush=True)
    builds = [demo_build(name) for name in demo_builds()]
    shots = [simulate(build) for build in builds]
    many = simulate_many(builds)
    for name, shot in zip(demo_builds(), shots, strict=True):
        print(f"{name:12s} {units.show(shot.muzzle_velocity, 'speed'):>10s}, {shot.build.title}")
    same = np.array_equal([shot.muzzle_velocity.magnitude for shot in shots], many.muzzle_velocity.magnitude)
    print(f"one by one and together {'agree' if same else 'DISAGREE: please report this'}")
    print(f"ready after {time.perf_counter() - start:.1f} s; data in {tables.data_folder().name}/")


def notebooks() -> Path:
    """The notebooks: those of the checkout, or copies in the working folder, where nothing is overwritten."""
    package = Path(__file__).resolve().parent
    beside, packed = package.parent / "notebooks", package / "notebooks"
    if (beside / FIRST).is_file():
        return beside
    own = Path.cwd() / "blasterlab notebooks"
    for path in packed.rglob("*"):
        copy = own / path.relative_to(packed)
        if path.is_file() and not copy.exists():
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(path, copy)
    return own


def lab() -> None:
    """Open the first notebook in JupyterLab, until it is closed."""
    if find_spec("jupyterlab") is None:
        sys.exit("JupyterLab is not installed here; try: python -m pip install jupyterlab")
    alone = ["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []  # as in a container
    sys.exit(subprocess.call([sys.executable, "-m", "jupyterlab", *alone, str(notebooks() / FIRST)]))


def shoot(file: str) -> None:
    """What a build text shoots, in words, within which range, and what its checks find."""
    build = Build.load(file)
    print(report.words(simulate(build)))
    print(report.words(predict(build)))
    for finding in build.check():
        print(f"{finding.severity}: {finding.message}")


def sheet(file: str, cap: list[str] | None) -> None:
    """The build sheet of a build text, written beside it, with the event's cap."""
    page, build = Path(file).with_name(f"{Path(file).stem}_sheet.html"), Build.load(file)
    build.sheet_page(page, cap=(caps := _caps(file, cap)) or None)
    print(f"{page}: open it in a browser, and print it from there")
    _say_cap(build, caps)


def share(file: str, cap: list[str] | None) -> None:
    """A page that shoots a build text in anyone's browser, written beside it, with the event's cap."""
    page, build = Path(file).with_name(f"{Path(file).stem}_share.html"), Build.load(file)
    build.share_page(page, caps := _caps(file, cap))
    print(f"{page}: {page.stat().st_size / 1e3:.0f} kB, opens in any browser, without the internet")
    _say_cap(build, caps)


def _caps(file: str, asked: list[str] | None) -> tuple[str, ...]:
    """The caps that were asked for; else those of the bench that keeps the file, or of this folder's."""
    return tuple(asked or event_caps(_bench(file)))


def _bench(file: str) -> Path | None:
    """The bench that keeps a file, None where none does."""
    bench = Path(file).resolve().parent.parent
    return bench if (bench / "chosen").is_dir() else None


def _say_cap(build: Build, caps: tuple[str, ...]) -> None:
    print(sentence(cap_label(speed_cap(caps, build.dart.mass).rules) if caps else "no cap: --cap gives one"))


def main() -> None:
    """Do what the command line asks for."""
    parser = argparse.ArgumentParser(
        "python -m blasterlab", description="Without a command: shoot the demo builds, to see that all works."
    )
    parser.add_argument("--version", action="version", version=f"blasterlab {__version__}")
    commands = parser.add_subparsers(metavar="COMMAND")
    commands.add_parser("lab", help="open the notebooks in JupyterLab").set_defaults(run=lab)
    for name, run, told in (
        ("shoot", shoot, "say what a build text shoots, and what its checks find"),
        ("sheet", sheet, "write the build sheet of a build text, to print or to send"),
        ("share", share, "write a page beside a build text that shoots it in anyone's browser"),
    ):
        command = commands.add_parser(name, help=told)
        command.add_argument("file", help="a build text, such as my_build.toml")
        command.set_defaults(run=run)
        if run is not shoot:
            how = "of your event, such as '150 ft/s' or '1.5 J'; else the one that you gave in a panel"
            command.add_argument("--cap", action="append", help=how)
    asked = vars(parser.parse_args())
    run = asked.pop("run", ready)
    if "file" in asked and (chosen := recall("units", units.UNIT_SETS, _bench(asked["file"]))):
        units.use_units(chosen)
    try:
        run(**asked)
    except OSError as error:
        sys.exit(f"{error.filename}: {error.strerror}")
    except ValueError as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
