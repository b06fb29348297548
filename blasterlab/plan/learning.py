"""What strings teach of one build: its speed before and after, the losses, and which of them did it.

What it is for: `Learning`, what a builder asks and, once it is learned, the answer.  What it leaves out: the
fit itself (``bench.calibrate``), and words.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from blasterlab.bench.calibrate import calibrate
from blasterlab.bench.calibration import Calibration
from blasterlab.bench.predict import Prediction
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.plan.compare import shared_out
from blasterlab.tables import pd
from blasterlab.units import UnitError


@dataclass(frozen=True, eq=False)
class Learning:
    """A build and its strings, and what was learned of it from them.

    Attributes
    ----------
    build : Build [-]
        As its text has it.
    pairs : tuple of (Build, ChronoString) [-]
        What was shot, the first with this very build.
    before, after : Prediction, and Prediction or None [m/s]
        What it is expected to shoot as its text has it, and with the learned losses.
    fit : Calibration or None [-]
        None before it is learned.
    shares : dict of str to float [m/s]
        What each learned loss, by its name, did to the muzzle velocity.
    used : bool [-]
        Whether the build's text has been given them meanwhile.
    next : DataFrame or None [-]
        What to measure next, from `Calibration.measure_next`.
    """

    build: Build
    pairs: tuple[tuple[Build, ChronoString], ...]
    before: Prediction
    after: Prediction | None = None
    fit: Calibration | None = None
    shares: dict[str, float] = field(default_factory=dict)
    used: bool = False
    next: pd.DataFrame | None = None


def learn(asked: Learning, progress: Callable[[int, int], None] | None = None) -> Learning:
    """What the strings teach.

    Parameters
    ----------
    asked : Learning [-]
        The build and its strings.
    progress : callable or None [-]
        As for `calibrate`.

    Returns
    -------
    Learning
        The same, answered.

    Raises
    ------
    UnitError
        No string.
    CalibrationError
        A dart that does not leave with usual losses.
    """
    if not asked.pairs:
        raise UnitError("string 1: empty; must be the shots of this build, one a line")
    fit = calibrate(asked.pairs, progress=progress)
    build = fit.build(asked.build)
    parts = shared_out(asked.build, build).items()
    shares = {name.removeprefix("losses."): float(part.m) for (name, *_), part in parts}
    return replace(
        asked, fit=fit, after=fit.predict(asked.build), shares=shares, next=fit.measure_next(asked.build)
    )
