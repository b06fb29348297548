"""What strings teach of one build: its speed before and after, the losses, and which of them did it.

What it is for: `Learning`, what a builder asks and, once it is learned, the answer.  What it leaves out: the
fit itself (``bench.calibrate``), and words.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from blasterlab.assumed import general
from blasterlab.bench.calibrate import calibrate
from blasterlab.bench.calibration import Calibration
from blasterlab.bench.predict import Prediction
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.plan.compare import shared_out
from blasterlab.tables import pd
from blasterlab.units import UnitError

#: What learned losses make up for where it is wrong, the first to measure first.
MATTER = (
    "barrel.length", "chamber.stroke", "spring.preload", "spring.active_coils", "spring.wire_diameter",
    "chamber.bore", "barrel.bore", "dart.mass",
)  # fmt: skip


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
    used : str [-]
        What the build is called that has been given them meanwhile, "" for none.
    next : DataFrame or None [-]
        What to measure next, from `Calibration.measure_next`.
    demo : tuple of str [-]
        Values by dotted name that are the demo's, beside strings of the builder's own.
    """

    build: Build
    pairs: tuple[tuple[Build, ChronoString], ...]
    before: Prediction
    after: Prediction | None = None
    fit: Calibration | None = None
    shares: dict[str, float] = field(default_factory=dict)
    used: str = ""
    next: pd.DataFrame | None = None
    demo: tuple[str, ...] = ()

    @property
    def assumed(self) -> list[str]:
        """Of what matters to the speed, the values that nobody measured, by dotted name [-]."""
        found = [name for name in self.build.assumed if general(name) in MATTER]
        return sorted(found, key=lambda name: MATTER.index(general(name)))


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
        raise UnitError("string 1: empty; must be the shots of this build, one per line")
    fit = calibrate(asked.pairs, progress=progress)
    build = fit.build(asked.build)
    parts = shared_out(asked.build, build).items()
    shares = {name.removeprefix("losses."): float(part.m) for (name, *_), part in parts}
    return replace(
        asked, fit=fit, after=fit.predict(asked.build), shares=shares, next=fit.measure_next(asked.build)
    )
