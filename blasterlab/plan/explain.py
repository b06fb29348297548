"""Yesterday this, today that: is it real, and which single cause would explain it?

What it is for: `explain`, which compares two means by Welch's test and then asks the shot model how much of
each thing that may change by itself would do what was measured.  What it leaves out: several causes at once
(`calibrate` learns those from strings), causes that no shot reads (a foam that aged, a worn breech), what
warmth does to foam, grease and plastic, and words (``report.explain``).

References
----------
B. L. Welch, Biometrika 34, 28, 1947.
"""

from __future__ import annotations

import contextlib
import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.assumed import likely, si_name, source
from blasterlab.bench.cells import StringError
from blasterlab.bench.comparison import Sample, StringComparison, compare_samples, noted
from blasterlab.bench.statistics import mean_sd
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build, BuildError
from blasterlab.doors import Spoken
from blasterlab.faults import fault
from blasterlab.flight.flat_fire import retardation
from blasterlab.parts.priors import NINE_IN_TEN, PRIORS
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.parameters import Floats
from blasterlab.shot.speed_range import PRIOR, SETUP, TOLERANCE, independent
from blasterlab.tables import pd

#: How a mean is typed.
MEAN_WRITTEN = '"191 ft/s, 10 shots", with "SD 3 ft/s" where you know it'
#: What is no value of a build: how far from the muzzle the screens stand.
SCREENS = "screens"
#: How far another bag of darts, another day or another stand may be off, about the build's own values, nine
#: cases in ten: a share of the mass, kelvins, metres.
OFF = {"dart.mass": 0.15, "air.temperature": 15.0, SCREENS: 1.0}
_PRACTICE = "common practice, no source"
_STEPS = 16  # values between a cause's own and each end of its range


@dataclass(frozen=True)
class Explanation(Spoken):
    """A difference of two means, and what each single cause would have to be.

    Attributes
    ----------
    build : Build [-]
        The build.
    before, after : Sample [m/s]
        Mean, SD and count of each.
    difference : StringComparison [m/s]
        After less before, its interval, and how likely chance does as much.
    table : DataFrame [SI]
        One row a cause, the likeliest first: name, own, low, high (nine cases in ten), its source; needed (to
        do all of the difference; not a number where the range is too small), needed_low and needed_high (the
        same for the ends of the difference's interval); use, the way from own to needed as a share of the
        way to that end of the range; share, how much of the difference the range's end would do; speed_m_s,
        the largest change of speed that the range allows in this direction.
    speed : float [m/s]
        What the model shoots with the build as it stands.
    back : bool [-]
        Whether the build stands for the second string: its speed lies within half the difference of that
        mean.  What a cause needed is then what it was before.
    """

    build: Build
    before: Sample
    after: Sample
    difference: StringComparison
    table: pd.DataFrame
    speed: float
    back: bool = False

    @property
    def reassembled(self) -> bool:
        """Whether putting the same parts together again usually moves the mean as much [-]."""
        return abs(self.difference.relative) <= _MOVED


#: Between two assemblies of the same parts, nine cases in ten: a share of the speed.
_MOVED = NINE_IN_TEN * math.sqrt(2.0) * SETUP


def explain(
    build: Build, before: ChronoString | str, after: ChronoString | str, level: float = 0.95, unit: str = ""
) -> Explanation:
    """Whether two strings of one build differ, and which single cause would explain it.

    Parameters
    ----------
    build : Build [-]
        As it was for the first string, which it need not shoot exactly: differences count as shares of its
        own speed.  Where it shoots what the second did, causes are counted back from there.
    before, after : ChronoString or str [m/s]
        Two strings, texts of strings, or means with their counts such as ``"191 ft/s, 10 shots, SD 3 ft/s"``.
    level : float [-]
        Confidence of the comparison.
    unit : str [-]
        Of texts that do not say one.

    Returns
    -------
    Explanation
        The comparison, and a table of causes.

    Raises
    ------
    StringError
        A text that cannot be read, or from which no mean and count can be taken.
    BuildError
        A dart that never leaves: then there is no speed to move.
    ValueError
        A level outside its range.

    Notes
    -----
    Each cause is moved alone through its usual range and shot; between the shots its value is interpolated.
    Ranges: losses and preload as where nobody measured them; the same parts put together again move the mean
    by 0.5 % (one standard deviation); darts 15 %, the air 15 K, screens 1 m off, all of these common practice
    without a source.

    References
    ----------
    Welch 1947.

    Examples
    --------
    >>> import blasterlab as bl
    >>> found = bl.explain(bl.demo_build("workhorse"), "191 ft/s, 10 shots", "178 ft/s, 10 shots")
    >>> found.difference.differs, round(found.difference.relative, 3)
    (True, -0.068)
    """
    one, two = (sample(given, unit, name) for given, name in ((before, "before"), (after, "after")))
    wanted = two.mean / one.mean - 1.0
    found = compare_samples(one, two, level, min(max(abs(wanted), 1e-4), 1.0))
    ends = [end.m_as("m/s") / one.mean for end in (found.low, found.high)]
    made = []
    speed, causes = _moved(build)
    back, per_share = found.differs and abs(speed - two.mean) < 0.5 * abs(two.mean - one.mean), one.mean
    if back:
        wanted, *ends = (1.0 / (1.0 + change) - 1.0 for change in (wanted, *ends))
        per_share = -two.mean
    for name, from_, grid, gain in causes:
        needed, use = _reach(grid, gain, wanted)
        low, high = sorted((_reach(grid, gain, end)[0] for end in ends), key=lambda v: (math.isnan(v), v))
        most = float(gain[np.argmax(gain * np.sign(wanted))])
        made.append({
            "name": name, "own": grid[_STEPS], "low": grid[0], "high": grid[-1], "needed": needed,
            "needed_low": low, "needed_high": high, "use": use, "share": most / wanted if wanted else 0.0,
            "speed_m_s": most * per_share, "source": from_,
        })  # fmt: skip
    made.sort(key=lambda row: (math.isnan(row["needed"]), row["use"], -row["share"]))
    return Explanation(build, one, two, found, pd.DataFrame(made), speed, back)


def sample(given: ChronoString | str, unit: str = "", name: str = "shots") -> Sample:
    """Mean, SD and count of a string, of its text, or of a mean with its count [m/s]; else a StringError."""
    if isinstance(given, str):
        if (told := noted(given, unit, name)) is not None:
            return told
        text = given.strip()
        try:
            given = ChronoString.from_text(text, unit=unit or None)
        except StringError as refused:
            if refused.argument or "\n" in text:
                raise
            cause = f"{name}: a mean is written {MEAN_WRITTEN}; {refused.fault}"
            with contextlib.suppress(units.UnitError):  # a mean alone
                units.parse(f"{text} {unit * text[-1:].isdigit()}", "speed")
                cause = f'{name}: how many shots was it the mean of? Write "{text}, 10 shots"; '
                cause += 'add "SD 3 ft/s" where you know it'
            raise StringError(cause, refused.argument) from refused
    if not isinstance(given, ChronoString):
        raise StringError(f"{name}: got {type(given).__name__}; must be a string of shots, or its text")
    return Sample(*mean_sd(given.speeds_si), given.count)


def _moved(build: Build) -> tuple[float, Iterator[tuple[str, str, Floats, Floats]]]:
    """The build's speed [m/s], and its causes.

    Each cause: name, source, values through the range, its own in the middle, share of speed each adds.
    """
    names = [f"losses.{name}" for name in (*PRIORS, "dart_breakaway")]
    names += [f"{spring.name}.preload" for spring in build.springs]
    ends = likely(dataclasses.replace(build, assumed=tuple(names)))
    sources = {name: source(name) for name in ends}
    for name, off in OFF.items():
        own = build.si.get(name, 0.0)
        off *= own if name == "dart.mass" else 1.0
        ends[name] = (own - off, own, own + off)
    # the distance to the screens is asked too, which no shot reads
    asked = independent({si_name(name).removeprefix("losses."): span for name, span in ends.items()}, PRIOR)
    grid = np.linspace(asked.low, asked.best, _STEPS + 1), np.linspace(asked.best, asked.high, _STEPS + 1)[1:]
    grids = np.vstack(grid).T
    table = np.tile(asked.best, (*grids.shape, 1))
    for place, values in enumerate(grids):
        table[place, :, place] = values
    shot = simulate_rows(asked.rows(build.si, 1, table.reshape(-1, len(grids))), TOLERANCE)
    speeds = np.asarray(shot.muzzle_velocity.m).reshape(grids.shape)
    if not speeds[0, _STEPS] > 0.0:
        must = "a build whose dart leaves (see what its shot says)"
        raise BuildError([fault("build", "a dart that stays in the barrel", must)])
    v, air = build.si, float(build.air.density.m_as("kg/m^3"))
    slowing = v["dart.drag_coefficient"] * retardation(air, v["dart.mass"], v["dart.diameter"])
    speeds[-1] *= np.exp(-slowing * grids[-1])
    gains = speeds / speeds[:, _STEPS, None] - 1.0
    froms = [sources.get(name, _PRACTICE) for name in ends]
    return float(speeds[0, _STEPS]), zip(ends, froms, grids, gains, strict=True)


def _reach(grid: Floats, gain: Floats, wanted: float) -> tuple[float, float]:
    """The value nearest to a cause's own that gives a change, and its share of the way; nan, 1 for none."""
    found = [(math.nan, 1.0)]
    for side in (slice(_STEPS, None), slice(_STEPS, None, -1)):
        values, made = grid[side], gain[side] * np.sign(wanted)
        over = int(np.argmax(made >= abs(wanted)))  # 0 for nowhere, and for no change at all
        if over:
            pair = slice(over - 1, over + 1)
            value = float(np.interp(abs(wanted), made[pair], values[pair]))
            found.append((value, abs((value - values[0]) / (values[-1] - values[0]))))
    return min(found, key=lambda one: (math.isnan(one[0]), one[1]))
