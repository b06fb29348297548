"""Attacks on what users can reach: texts, strings, files, panels and shots, each from a seed.

Every attack takes a random generator and answers nothing when the kit held, or says in words what broke; an
exception of a foreign type breaks it too.  ``tests/unit/test_attacks.py`` runs a few of each with fixed seeds
and shows that each notices a fault; ``tests/bench/attack.py`` runs many.
"""

from __future__ import annotations

import contextlib
import csv
import functools
import html.parser
import io
import os
import random
import re
import subprocess
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.bench.reading import Reading, read_text
from blasterlab.parts import barrel, chamber, dart, losses
from blasterlab.values import SHOT_PARTS

Attack = Callable[[random.Random], str | None]
#: Text that has hurt programs before: mathematics, markup, directions, nothing at all, formulas, paths.
HOSTILE = (
    r"$\frac{$", "cost: $5 or $6", "\\", "_^{}#%&~", "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>", "&amp;", "' onmouseover='a", '" onmouseover="a',
    "\u202eright to left\u202c", "\u200b", "=1+1", "+1", "@SUM(A1)", "-1", "a;=1+1", 'a",=1+1', "\t=1+1",
    "../../etc/passwd", "CON", "a" * 10_000, "W" * 190,
    "\x00", "\x0c", "\u2028", "\ufeff", "'''", '"""', "{0}", "%s", "नमस्ते", "🎯", "\ud800", "1e308",
    "NaN", "inf", "-0", "1/0", "1,5", "１２", "²",
)  # fmt: skip
UNITS = (
    "mm", "cm", "m", "in", '"', "ft", "g", "kg", "oz", "grain", "N", "lbf", "kgf", "kPa", "psi", "mm^2",
    "cm^3", "ml", "N/m", "lbf/in", "degC", "K", "%", "permille", "angstrom", "millicarat", "milliinch",
    "furlong", "", "m/s", "ft/s", "J", "deg",
)  # fmt: skip
SLOW = 2.0  # s of computing that any single answer may take
SLOW_SHOT = 0.3  # s of computing that a single shot may take


def again_if_slow(attack: Attack) -> Attack:
    """The same attack, made again before anything is called slow: the first time, code may be compiled."""

    @functools.wraps(attack)
    def twice(rng: random.Random) -> str | None:
        state = rng.getstate()
        if (said := attack(rng)) and " took " in said:
            rng.setstate(state)
            return attack(rng)
        return said

    return twice


@contextlib.contextmanager
def at_most(seconds: float, said: list[str], what: str) -> Iterator[None]:
    """Note an answer that takes too much of this thread's computing time; other programs do not count."""
    start = time.thread_time()
    yield
    if (took := time.thread_time() - start) > seconds:
        said.append(f"{what} took {took:.2f} s")


def nan_in(text: str) -> bool:
    """Whether a text shows a number that is none."""
    return bool(re.search(r"(?<![\w'\"])nan(?![\w'\"])", text, re.IGNORECASE))


def number(rng: random.Random) -> str:
    """A number as somebody or something might write it."""
    kind = rng.randrange(6)
    if kind == 0:
        return f"{rng.uniform(-10, 500):.{rng.randrange(5)}f}"
    if kind == 1:
        return f"1e{rng.randint(-320, 320)}"
    if kind == 2:
        return f"{rng.randint(0, 60)} {rng.randint(0, 9)}/{rng.randint(0, 16)}"
    if kind == 3:
        return str(rng.randint(-(10**18), 10**18))
    if kind == 4:
        return rng.choice(HOSTILE)
    return f"{rng.uniform(0, 100):.3g}"


# ---- build text ---------------------------------------------------------------------------------------


def broken_line(rng: random.Random, line: str) -> str:
    """One line of a text, changed in one of a dozen ways."""
    key, equals, value = line.partition(" = ")
    kind = rng.randrange(8)
    if not equals or kind == 0:
        return rng.choice((line + rng.choice(HOSTILE), "", line * 2, line[: rng.randint(0, len(line))]))
    if kind == 1:
        return f"{rng.choice(HOSTILE)} = {value}"
    if kind == 2:
        return f"{key} = {value[:-1]}"
    if kind == 3:
        return f"{key} = {rng.choice(('true', '[]', '{}', '1979-05-27', 'nan', '-inf', '0x1F', '1_0'))}"
    if kind == 4:
        return f"{key} = {number(rng)}"
    return f'{key} = "{number(rng)} {rng.choice(UNITS)}"'.replace("\\", "\\\\")


@again_if_slow
def build_text(rng: random.Random) -> str | None:
    """A damaged build text is refused in the kit's own words, or comes back the same from its own text."""
    lines = bl.demo_build(rng.choice(bl.demo_builds())).to_text().split("\n")
    for _ in range(rng.randint(1, 3)):
        place = rng.randrange(len(lines))
        lines[place] = broken_line(rng, lines[place])
    text = "\n".join(lines)
    said: list[str] = []
    with at_most(SLOW, said, "reading"):
        try:
            build = bl.Build.from_text(text)
        except bl.BuildError as error:
            return f"a refusal of {len(str(error))} characters" if len(str(error)) < 10 else None
    again = bl.Build.from_text(build.to_text())
    if again != build and again.si != build.si:
        return f"read again, another build:\n{text}"
    if any(nan_in(str(finding)) for finding in build.check()):
        return f"nan in a finding:\n{text}"
    return "\n".join(said) or None


# ---- strings ------------------------------------------------------------------------------------------


def unaccounted(text: str, reading: Reading) -> list[int]:
    """Numbers of lines that are neither blank nor read nor reported, found without the reader's own steps."""
    lines = dict(enumerate(text.lstrip("\ufeff").splitlines(), start=1))
    told = {*reading.lines, *reading.header, *(line.number for line in reading.unread)}
    said = "".join([*reading.fields, *reading.fields.values(), *reading.comments])  # long words were cut
    for number, line in lines.items():
        if re.match(r'\s*"?(#|//)', line):  # a comment: its words are kept
            words = re.findall(r"[^\W_]+", line.replace('""', '"'))
            if all(word.lower() in said.lower() or word == "comment" for word in words):
                told.add(number)
    return [number for number, line in lines.items() if line.strip() and number not in told]


@again_if_slow
def string_text(rng: random.Random) -> str | None:
    """Each line of a pasted text is a reading, a comment, a heading, or reported; the string comes back."""
    shots = [f"{rng.uniform(40, 80):.{rng.randrange(3)}f}" for _ in range(rng.randint(1, 12))]
    forms = ("{}", "{} m/s", "{},", ";{}", "{} ft/s cold", "shot {}", "1,{}", "{}\t{}", "{} # {}", '"{}"')
    form = rng.choice(forms)
    lines = [(rng.choice(forms) if rng.random() < 0.2 else form).replace("{}", shot) for shot in shots]
    for _ in range(rng.randrange(4)):
        line = rng.choice((*HOSTILE, "", ",,", ";;", "# a comment", "Average: 61.2 m/s", "x" * 200_000,
                           "# title: " + rng.choice(HOSTILE), "shot,speed", "speed [m/s]"))  # fmt: skip
        lines.insert(rng.randrange(len(lines) + 1), line)
    text = rng.choice(("\n", "\r\n", "\r")).join(lines)
    column = rng.choice((None, None, None, rng.randrange(6)))
    said: list[str] = []
    try:
        with at_most(SLOW, said, "reading"):
            if lost := unaccounted(text, read_text(text, None, column)):
                return f"lines {lost} are neither read nor reported:\n{text[:500]!r}"
            string = bl.ChronoString.from_text(text, unit=rng.choice((None, "m/s", "ft/s")), column=column)
    except ValueError as error:
        return "an empty refusal" if len(str(error)) < 10 else None
    if nan_in(shown := f"{string} {string.summary()}".replace(string.title or " ", " ")):
        said.append(f"nan in {shown[:300]}")
    if bl.ChronoString.from_text(string.to_csv()) != string:
        said.append(f"read again, another string:\n{string.to_csv()[:500]}")
    return "\n".join(said) or None


# ---- panels -------------------------------------------------------------------------------------------


def makers() -> dict[str, Callable[[], Any]]:
    """Every panel, as it is opened."""
    build, other = (bl.demo_build(name) for name in ("workhorse", "apprentice"))
    with_build = ("barrel_panel", "volume_ratio_panel", "trajectory_panel", "wind_panel", "group_panel")
    plain = ("spring_panel", "scale_panel", "chronograph_panel", "build_panel", "seal_panel", "ends_panel",
             "strength_panel", "explain_panel", "losses_panel", "search_panel", "compare_panel",
             "tuning_panel")  # fmt: skip
    found = {name: lambda name=name: getattr(panels, name)(build) for name in with_build}
    found |= {name: getattr(panels, name) for name in plain}
    found["motion_panel"] = lambda: panels.motion_panel(bl.simulate(build))
    return found | {"two trajectories": lambda: panels.trajectory_panel([build, other])}


def move(rng: random.Random, panel: Any) -> str:
    """One move of a panel, by hand or in code, and what it was; what is refused in words is an answer."""
    name = rng.choice(list(panel.values))
    box, kind = panel.box(name), rng.randrange(5)
    value = rng.choice((number(rng), f"{number(rng)} {rng.choice(UNITS)}", rng.choice(HOSTILE)))
    if kind == 0:
        panel.units = rng.choice(("metric", "US customary"))
        return "units"
    if kind == 1:
        panel.press("Reset")
        return "Reset"
    if kind == 2 and box.place is not None:
        place = rng.uniform(box.grid[0], box.grid[1])
        panel.slide(name, place)
        return f"slide {name} to {place}"
    options = getattr(panel.controls[name], "options", None)
    if kind == 3 and options is None:
        panel.type(name, value.replace("\ud800", ""))  # a browser sends no half characters
        return f"type {value[:60]!r} into {name}"
    with contextlib.suppress(ValueError):
        panel.set(name, rng.choice(options) if options and rng.random() < 0.7 else value)
    return f"set {name} to {value[:60]!r}"


@again_if_slow
def panel_events(rng: random.Random) -> str | None:
    """A panel takes any moves in any order: refused ones are said, and Reset gives what stood there first."""
    maker = rng.choice(sorted(opened := makers()))
    panel, moves, said = opened[maker](), [], []
    first = panel.text
    for _ in range(8):
        with at_most(SLOW, said, "a move"):
            moves.append(move(rng, panel))
        shown = re.sub(r"got .*?; must be", "", panel.text + " ".join(panel.lines))  # what was typed
        if nan_in(shown):
            said.append(f"shows nan: {panel.text}")
        if "no result" in panel.text and not panel.message:
            said.append("no result, and no message")
        if wrong := markup(panel.alert + panel.sight):
            said.append(f"markup {wrong}")
        if said:
            break
    panel.units = "metric"
    panel.reset()
    if panel.text != first or panel.message:
        said.append(f"after Reset: {panel.text!r} in place of {first!r}; {panel.message[:200]}")
    panel.close()
    return f"{maker}: {'; '.join(said)} after {moves}" if said else None


def two_threads(rng: random.Random) -> str | None:
    """Two threads move one panel; it stays whole and answers as a fresh one with the same values."""
    build = bl.demo_build("workhorse")
    panel, fresh = panels.barrel_panel(build), panels.barrel_panel(build)
    wrong: list[object] = []

    def moves(own: random.Random) -> None:
        for entry in ("long", "", *(f"{own.randint(10, 60)} cm" for _ in range(4))):
            try:
                with contextlib.suppress(ValueError):
                    panel.set("barrel.length", entry)
            except Exception as error:
                wrong.append(error)

    threads = [threading.Thread(target=moves, args=(random.Random(rng.random()),)) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    if wrong or any(thread.is_alive() for thread in threads):
        return f"two threads: {wrong or 'still running'}"
    length = panel.values["barrel.length"]
    fresh.set("barrel.length", length)
    shown = [
        part for part in (panel, fresh) for part in (part.lines, part.box("barrel.length"), part.pictures)
    ]
    panel.close()
    fresh.close()
    return None if shown[:3] == shown[3:] else f"after two threads it shows no panel at {length}"


# ---- saving -------------------------------------------------------------------------------------------

#: Saves what it reads to the file of its argument, as the kit saves: once where it says so, else on and on.
SAVER = """
import os, sys
from blasterlab import files
path, how = sys.argv[1:3]
text = sys.stdin.read()
if how == "on and on":
    print("ready", flush=True)
    while True:
        files.write_whole(path, text)
if os.environ.get("SMALL"):
    import resource, signal
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(os.environ["SMALL"]),) * 2)
try:
    files.write_whole(path, text)
    print("saved")
except OSError as error:
    print("refused:", error)
"""


def new_text(what: str) -> bytes:
    """What a saver saves: a build or a string of several kilobytes."""
    if what == "build":
        text = bl.demo_build("workhorse").replace({"note": "x" * 3900}).to_text()
    else:
        text = bl.ChronoString.from_readings([60.0 + n / 64 for n in range(1000)], unit="m/s").to_csv()
    return text.encode()


@contextlib.contextmanager
def savers(path: Path, what: str, count: int) -> Iterator[list[subprocess.Popen[bytes]]]:
    """Processes that save on and on, killed in the end."""
    command, text = [sys.executable, "-c", SAVER, str(path), "on and on"], new_text(what)
    started = [subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) for _ in range(count)]
    try:
        for process in started:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write(text)
            process.stdin.close()
            assert process.stdout.readline() == b"ready\n"
        yield started
        assert all(process.poll() is None for process in started), "a saver ended by itself"
    finally:
        for process in started:
            process.kill()
            process.wait()
            assert process.stdout is not None
            process.stdout.close()


def left_over(path: Path, what: str) -> str | None:
    """What is wrong after savers were killed: a file that is not whole, or litter after the next save."""
    if not one_of(path, what):
        return f"after a kill the {what} is not whole"
    old_file(path, what)
    left = [item.name for item in path.parent.iterdir() if item != path]
    return f"litter: {left}" if left else None


def one_of(path: Path, what: str) -> bool:
    """Whether a file is a whole build or string."""
    try:
        (bl.Build if what == "build" else bl.ChronoString).load(path)
    except (ValueError, OSError):
        return False
    return True


def old_file(path: Path, what: str) -> None:
    """What stands there before the attack."""
    (bl.demo_build("apprentice") if what == "build" else bl.demo_string("workhorse_wire_14")).save(path)


def saving_killed(rng: random.Random) -> str | None:
    """A save that is killed leaves the old file or the new one, whole; the next save clears the litter."""
    what = rng.choice(("build", "string"))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / rng.choice(("mine", "é", "a b", "$x", "=1+1", "-rf"))
        old_file(path, what)
        with savers(path, what, 1):
            time.sleep(rng.uniform(0.0, 0.05))
        return left_over(path, what)


def two_kernels(rng: random.Random) -> str | None:
    """Two processes save one file at the same time: who loads it finds a whole one; no litter stays."""
    what = rng.choice(("build", "string"))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mine"
        old_file(path, what)
        with savers(path, what, 2):
            wrong = sum(not one_of(path, what) for _ in range(20))
        return f"{wrong} of 20 loads failed" if wrong else left_over(path, what)


def disk_full(rng: random.Random) -> str | None:
    """On a full disk a save is refused by an OSError, the old file stays and nothing else is left."""
    what = rng.choice(("build", "string"))
    with tempfile.TemporaryDirectory() as folder, small_disk(folder) as small:
        path = Path(folder) / "mine"
        old_file(path, what)
        before = path.read_bytes()
        variables = {"SMALL": str(rng.randrange(0, 4000))}
        if small:
            variables = {}
            with contextlib.suppress(OSError), (Path(folder) / "fill").open("wb", buffering=0) as fill:
                while fill.write(b"x" * rng.choice((512, 4096))):
                    pass
        command = [sys.executable, "-c", SAVER, str(path), "once"]
        done = subprocess.run(
            command, input=new_text(what), capture_output=True, env=os.environ | variables, check=False
        )
        if not done.stdout.startswith(b"refused: "):
            return f"{'small disk' if small else variables}: {done.stdout!r} {done.stderr[-300:]!r}"
        left = [item.name for item in Path(folder).iterdir() if item.name not in ("mine", "fill")]
        if path.read_bytes() != before or left:
            return f"the old {what} is {'there' if path.read_bytes() == before else 'damaged'}, litter {left}"
    return None


@contextlib.contextmanager
def small_disk(folder: str) -> Iterator[bool]:
    """A disk of 64 kB in a folder, where this user may have one; else False, and a limit on files serves."""
    try:
        made = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", folder], capture_output=True, check=False
        ).returncode == 0  # fmt: skip
    except OSError:
        made = False
    try:
        yield made
    finally:
        if made:
            subprocess.run(["umount", folder], check=True)


# ---- shots --------------------------------------------------------------------------------------------

_FIELDS = {
    f"{name}.{field}": spec
    for name, part in {"barrel": barrel, "chamber": chamber, "dart": dart, "losses": losses}.items()
    for field, spec in part.FIELDS.items()
}


def accepted(rng: random.Random, low: float, high: float) -> float:
    """A value from the whole accepted range of a field, often near its ends."""
    if rng.random() < 0.1:
        return rng.choice((low, high))
    if low == 0.0 and rng.random() < 0.7:
        low = 1e-6 * high
    if low > 0.0 and high / low > 100.0:
        return float(low * (high / low) ** rng.random())
    return low + (high - low) * rng.random()


def any_build(rng: random.Random) -> bl.Build:
    """A demo build with some values moved over their whole accepted ranges, far or near."""
    assert set(SHOT_PARTS) == {"barrel", "chamber", "dart", "losses", "air"}
    while True:
        build = bl.demo_build(rng.choice(bl.demo_builds()))
        changes: dict[str, object] = {}
        for name in rng.sample(sorted(_FIELDS), rng.choice((1, 2, 4, 6))):
            field = _FIELDS[name]
            value = accepted(rng, field.low, field.high)
            changes[name] = (
                value if field.kind == "number" else units.quantity(value, units.KINDS[field.kind].si)
            )
        if rng.random() < 0.5:  # the springs too: most far moves of them go solid, so these stay nearer
            spring = rng.randrange(len(build.springs))
            place = f"springs[{spring}]" if len(build.springs) > 1 else "spring"
            for name in ("wire_diameter", "outer_diameter", "free_length", "active_coils", "preload"):
                changes[f"{place}.{name}"] = getattr(build.springs[spring], name) * rng.uniform(0.6, 1.7)
        if rng.random() < 0.3:
            changes["losses.wall_heat"] = "conduction"
        if rng.random() < 0.3:
            changes["losses.gas_inertia"] = rng.random() < 0.5
        try:
            return build.replace(changes)
        except bl.BuildError:
            continue


@again_if_slow
def one_and_many(rng: random.Random) -> str | None:
    """A batch gives the same bits as single shots; each shot converges, quickly, and without a NaN."""
    builds, singles = [any_build(rng) for _ in range(40)], []
    slow: list[str] = []
    for build in builds:
        with at_most(SLOW_SHOT, slow, "a shot"):
            try:
                shot = bl.simulate(build)
            except ValueError as error:
                return f"{error}\n{build.to_text()}"
        if slow:
            return f"{slow[0]}\n{build.to_text()}"
        singles.append((float(shot.muzzle_velocity.m_as("m/s")), shot.status))
    many = bl.simulate_many(builds)
    speeds = np.asarray(many.muzzle_velocity.m_as("m/s"))
    if not np.isfinite(speeds).all():
        return "a NaN among the velocities of a batch"
    for build, single, one in zip(builds, singles, zip(speeds, many.status, strict=True), strict=True):
        if single != one:
            return f"batch {one} and single {single} differ\n{build.to_text()}"
    return None


# ---- hostile text -------------------------------------------------------------------------------------


class _Markup(html.parser.HTMLParser):
    """Collects tags and attributes that the kit never writes."""

    def __init__(self) -> None:
        super().__init__()
        self.wrong: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in ("div", "b", "br", "p", "img", "table", "tr", "td", "th"):
            self.wrong.append(tag)
        for name, value in attrs:
            if name not in ("class", "style", "alt", "width", "height", "decoding", "src", "role", "scope"):
                self.wrong.append(f"{tag} {name}")
            if name == "src" and not (value or "").startswith("data:image/png;base64,"):
                self.wrong.append(f"{tag} {name}={value}")


def markup(text: str) -> list[str]:
    """Tags and attributes in HTML that the kit never writes."""
    parser = _Markup()
    parser.feed(text)
    parser.close()
    return parser.wrong


def formulas(text: str) -> list[str]:
    """Cells of CSV that a spreadsheet would compute, whatever mark it takes to part cells."""
    return [
        cell
        for delimiter in ",;\t"
        for row in csv.reader(io.StringIO(text), delimiter=delimiter)
        for cell in row
        if cell.lstrip()[:1] in ("=", "+", "-", "@") and not re.fullmatch(r"[+-]?[0-9.]+", cell)
    ]


def _build_route(words: str, rng: random.Random) -> Iterator[str]:
    """What broke as a build carried some words in its title, its note, a name beside it."""
    try:
        build = bl.demo_build("workhorse").replace({"title": words, "note": words, "author": words})
    except bl.BuildError as error:
        if nan_in(str(error)) or len(str(error)) > 2000:
            yield f"a refusal of {len(str(error))} characters"
        build = bl.demo_build("workhorse")
    again = bl.Build.from_text(build.to_text())
    if (again.title, again.note, again.author) != (build.title, build.note, build.author):
        yield "the build is read again with other words"
    shot = bl.simulate(build)
    if wrong := markup(bl.html(shot)):
        yield f"a shot's HTML holds {wrong}"
    drawings: list[Callable[[], Any]] = [
        lambda: figures.shot_history(shot),
        lambda: figures.energy_ledger(shot),
        lambda: figures.velocity_curve(bl.barrel_sweep(build), shot),
        lambda: figures.trajectory_chart(
            {name: bl.zero(build, distance="10 m") for name in (words, "other")}, distance="10 m"
        ),
    ]  # fmt: skip
    yield from picture(rng.choice(drawings)(), words)
    panel = panels.trajectory_panel({words: build, "other": bl.demo_build("workhorse")})
    if wrong := markup(panel.sight + panel.alert):
        yield f"a panel's HTML holds {wrong}"
    panel.close()


def _string_route(words: str, rng: random.Random) -> Iterator[str]:
    """What broke as a chronograph string carried some words in every place that takes any."""
    keys = ("title", "note", "dart", "build", "date")
    about = dict.fromkeys(keys, words)
    try:
        string = bl.ChronoString.from_text(f"# {words}\n60.1 # {words}\n60.4\n60.9", unit="m/s", **about)
    except ValueError as error:
        if len(str(error)) > 2000:
            yield f"a refusal of {len(str(error))} characters"
        return
    text = string.to_csv()
    if found := formulas(text):
        yield f"a spreadsheet computes {found}"
    if bl.ChronoString.from_text(text) != string:
        yield "the string is read again as another"
    for result in (string, string.summary()):
        if wrong := markup(bl.html(result)):
            yield f"HTML holds {wrong}"
    drawings: list[Callable[[], Any]] = [
        lambda: figures.string_chart(string.summary()),
        lambda: figures.cap_chart(bl.cap_curve(string, "58 m/s", 10)),
    ]
    yield from picture(rng.choice(drawings)(), words)


def picture(drawing: Any, words: str) -> Iterator[str]:
    """What broke as a picture was shown in a notebook: drawn, its HTML, and its alternative text."""
    data, about = drawing._repr_mimebundle_()
    if wrong := markup(str(data.get("text/html", ""))):
        yield f"a picture's HTML holds {wrong}"
    if nan_in((data.get("text/plain", "") + about["image/png"]["alt"]).replace(words, " ")):
        yield f"nan in a picture's words: {str(about)[:200]}"


def _name_route(words: str, rng: random.Random) -> Iterator[str]:
    """What broke as some words became a file's name: saved and loaded under it, or refused as such."""
    with tempfile.TemporaryDirectory() as folder:
        below = Path(folder) / "a" / "b" / "c"
        below.mkdir(parents=True)
        path, what = below / words, rng.choice(("build", "string"))
        try:
            old_file(path, what)
        except (OSError, ValueError) as error:
            if not isinstance(error, OSError) and "\x00" not in words and "\ud800" not in words:
                yield f"a file name is refused by {error!r}"
        else:
            if not one_of(path, what):
                yield "saved and not found again"
        made = [item.name for item in Path(folder).rglob(".blasterlab*")]
        if made:
            yield f"litter: {made}"


def hostile(rng: random.Random, route: Callable[[str, random.Random], Iterator[str]]) -> str | None:
    """Take some text on a route; it arrives as text, or is refused."""
    words = rng.choice((HOSTILE[0], *rng.choices(HOSTILE, k=4))) + rng.choice(
        ("", " ", "a", rng.choice(HOSTILE))
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a letter that the font does not have is drawn as a box
        broke = next(route(words, rng), None)
    return broke and f"{words[:60]!r}: {broke}"


def hostile_build(rng: random.Random) -> str | None:
    """Any text in a build's words and beside it reaches pictures, HTML and build text as text."""
    return hostile(rng, _build_route)


def hostile_string(rng: random.Random) -> str | None:
    """Any text in a string's words reaches pictures, HTML and CSV as text, and computes nothing there."""
    return hostile(rng, _string_route)


def hostile_name(rng: random.Random) -> str | None:
    """Any text as a file's name is that file, or refused."""
    return hostile(rng, _name_route)


#: Every attack, with how many the suite runs.
ATTACKS: dict[Attack, int] = {
    build_text: 150,
    string_text: 150,
    panel_events: 12,
    two_threads: 3,
    saving_killed: 8,
    two_kernels: 3,
    disk_full: 6,
    one_and_many: 4,
    hostile_build: 8,
    hostile_string: 25,
    hostile_name: 60,
}
