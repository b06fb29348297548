"""Pictures of a calibration and of a prediction.

What it is for: `calibration_chart` and `prediction_chart` for a notebook, each with its numbers in words, and
`LearningView`, both for a panel.
What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from blasterlab.bench.calibration import Calibration
from blasterlab.bench.predict import Prediction
from blasterlab.bench.strings import ChronoString
from blasterlab.figures import style
from blasterlab.figures.style import Drawing, Frame
from blasterlab.plan.learning import Learning
from blasterlab.report.calibration import calibration_caption, learned_table, prediction_caption
from blasterlab.report.numbers import confidence, share
from blasterlab.units import Quantity


def _speed(value: Quantity | np.ndarray) -> np.ndarray:
    return np.asarray(style.shown(value, "speed"))


def calibration_chart(fit: Calibration) -> Drawing:
    """What a calibration learned (each loss before and after) and how well it fits (residuals).

    Parameters
    ----------
    fit : Calibration [-]
        From `calibrate`.

    Returns
    -------
    Drawing
        Two rows; `caption` has the best-known loss and the largest residual [-].
    """
    count, strings = len(fit.names), fit.residuals
    rows = len(strings)
    figure, (top, low) = style.new_figure(
        560,
        130 + 30 * count + 26 * rows,
        rows=2,
        left=140,
        right=96,
        heights=(count + 0.6, rows + 0.6),
        gap=(60, 62),
    )
    _draw_losses(top, fit)
    misses = strings["in_standard_uncertainties"].to_numpy()
    places = np.arange(rows - 1, -1, -1)
    low.axvspan(-2, 2, facecolor=style.PALE, alpha=0.6, linewidth=0)
    low.axvline(0.0, color=style.GREY, linewidth=1.0)
    low.hlines(places, 0.0, misses, color=style.VERMILION, linewidth=1.4)
    low.plot(misses, places, color=style.VERMILION, marker="s", markersize=6, linestyle="none")
    low.set_yticks(places, [_short(text) for text in strings["string"]])
    low.set_ylim(-0.7, rows - 0.3)
    reach = max(3.0, 1.15 * float(np.abs(misses).max()))
    low.set_xlim(-reach, reach)
    style.dress(low, "model minus measured mean, standard uncertainties", title="How well it fits")
    figure.caption = calibration_caption(fit)
    return figure


def _draw_losses(ax: Axes, fit: Calibration) -> None:
    """Each loss within its range before, its 90 % limits after, and what of its uncertainty is left."""
    count = len(fit.names)
    for place, row in enumerate(fit.table.to_dict("records")):
        start, width = row["before_low"], row["before_high"] - row["before_low"]
        y = count - 1 - place
        best, *ends = ((row[key] - start) / width for key in ("best", "low", "high"))
        ax.plot([0, 1], [y, y], color=style.PALE, linewidth=11, solid_capstyle="butt")
        ax.plot(ends, [y, y], color=style.BLUE, linewidth=3.0, solid_capstyle="butt")
        ax.plot([best], [y], color=style.BLUE, marker="o", markersize=7)
        ax.annotate(
            f"{share(min(row['left'], 1.0))} left", (1.0, y), xycoords=("axes fraction", "data"),
            xytext=(8, 0), textcoords="offset points", fontsize=style.SMALL, va="center",
            annotation_clip=False,
        )  # fmt: skip
    labels = [f"{row['loss']}\n{row['best']}" for row in learned_table(fit).to_dict("records")]
    ax.set_yticks(range(count - 1, -1, -1), labels)
    ax.set_ylim(-0.7, count - 0.3)
    ax.set_xlim(-0.35, 1.35)
    ax.set_xticks([0, 1], ["low end", "high end"])
    style.dress(
        ax,
        "range before (grey), 90 % limits after (blue)",
        title="Each loss, and the uncertainty left",
    )


def _short(text: str, longest: int = 22) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"


def prediction_chart(
    prediction: Prediction, before: Prediction | None = None, string: ChronoString | None = None
) -> Drawing:
    """A predicted speed with its intervals, what was expected before, and shots if there are any.

    Parameters
    ----------
    prediction : Prediction [-]
        From `predict`, or from a calibration.
    before : Prediction or None [-]
        Of the same build before any chronograph.
    string : ChronoString or None [-]
        What was then shot.

    Returns
    -------
    Drawing
        The figure; `caption` has prediction, interval and mean of the shots [-].
    """
    figure, (ax,) = style.new_figure(560, 230, left=128, right=20, bottom=48)
    _draw_speeds(ax, prediction, before, string)
    figure.caption = prediction_caption(prediction, before, string)
    return figure


def _draw_speeds(
    ax: Axes, prediction: Prediction, before: Prediction | None, string: ChronoString | None
) -> None:
    ends = [[prediction.next_low, prediction.next_high], [prediction.mean_low, prediction.mean_high]]
    for y, (pair, width) in enumerate(zip(ends, (4.0, 8.0), strict=True)):
        ax.plot([_speed(end) for end in pair], [y + 1, y + 1], color=style.BLUE, linewidth=width,
                solid_capstyle="butt")  # fmt: skip
        ax.plot([_speed(prediction.speed)], [y + 1], color=style.BLACK, marker="|", markersize=16)
    ticks, labels = [1, 2], [f"{name}, {confidence(prediction.level)}" for name in ("one shot", "mean")]
    if before is not None:
        span = [_speed(before.mean_low), _speed(before.mean_high)]
        ax.plot(span, [3, 3], color=style.ORANGE, linewidth=8.0, solid_capstyle="butt", alpha=0.6)
        ax.plot([_speed(before.speed)], [3], color=style.BLACK, marker="|", markersize=16)
        when = "before shots" if before.source == "prior" else "as before"
        ticks, labels = [*ticks, 3], [*labels, f"mean {when}"]
    if string is not None:
        speeds = _speed(np.array(string.speeds_si))
        ax.plot(speeds, 0.0 * speeds, color=style.VERMILION, marker="o", linestyle="none", alpha=0.7)
        ax.plot([_speed(string.mean)], [0], color=style.BLACK, marker="|", markersize=16)
        ticks, labels = [0, *ticks], ["shots", *labels]
    ax.set_yticks(ticks, labels)
    ax.set_ylim(-0.6 if string is not None else 0.4, 3.6 if before is not None else 2.6)
    style.dress(ax, style.label("speed", "speed"), title=_short(prediction.title, 50))


class LearningView:
    """What a build shoots before and after its strings, and below it, once they are, the learned losses."""

    figure: Drawing

    def frame(self, result: Learning, old: Frame | None) -> Frame:
        """The result itself: each has a picture of its own, taller where there is more to show."""
        fit, string = result.fit, result.pairs[0][1] if result.pairs else None
        if old is None or old[0] is not result:
            heights = (62, 148)[: 1 if fit is None else 2]
            tall = 74 + sum(heights) + 58 * (len(heights) - 1)
            self.figure, axes = style.new_figure(
                style.WIDTH, tall, rows=len(heights), left=128, right=72, gap=(60, 58), heights=heights
            )
            guess, before = (result.after, result.before) if result.after else (result.before, None)
            _draw_speeds(axes[0], guess, before, string)
            if fit is not None:
                _draw_losses(axes[1], fit)
        return (result,)

    def draw_full(self, frame: Frame) -> None:
        """Nothing more: `frame` has drawn it."""

    def draw_live(self, result: Learning) -> list[Artist]:
        """Nothing in it moves."""
        return []
