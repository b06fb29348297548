"""What a search found: speed against pull of all that was shot, the limits, and the chosen one.

What it is for: `OrderView` for a panel, and `front_chart`.  What it leaves out: every computation.
"""

from __future__ import annotations

import numpy as np
from matplotlib.artist import Artist

from blasterlab.figures import style
from blasterlab.figures.style import Drawing, Frame
from blasterlab.plan.order import Order
from blasterlab.plan.search import Plan
from blasterlab.plan.stock import Stock
from blasterlab.report.plan import front_caption
from blasterlab.units import Quantity


class OrderView:
    """Speed against pull of all that was shot: refused, good, on the front, chosen; the limits as lines."""

    def __init__(self, width: int = style.WIDTH, height: int = 232) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, top=30)

    def frame(self, result: Order, old: Frame | None) -> Frame:
        """Ends of both axes; the wanted band, cap and greatest pull; is there a plan [display unit]."""
        limits, plan, within = result.wants.limits(), result.plan, result.wants.within
        target = limits.get("target", np.inf)
        low, high = limits.get("least", target * (1.0 - within)), target * (1.0 + within)
        asked = style.shown(np.array([low, high, limits.get("velocity_cap", np.inf)]), "speed")
        pull, tops = style.shown(limits.get("prime_force", np.inf), "force"), []
        for name, ends in (("force", [pull]), ("speed", asked)):
            most = max([end for end in ends if end < np.inf], default=0.0)
            if plan is None:
                tops.append(1.1 * max(style.shown(*_now(result)[name]), most))
            else:
                found = style.shown(np.nan_to_num(plan.values[name]).max(), name) or 100.0
                tops.append(min(found, 1.7 * most or np.inf))
        was = old[0] if old else (None, None)
        axes = tuple(style.steady(one, 0.0, top) for one, top in zip(was, tops, strict=True))
        return axes, tuple(asked), pull, plan is not None

    def draw_full(self, frame: Frame) -> None:
        """Axes and limits, from `frame`."""
        ax, ((wide, tall), (low, high, cap), pull, searched) = self.ax, frame
        ax.clear()
        ax.set(xlim=wide, ylim=tall)
        ax.axhspan(low, min(high, cap, tall[1]), color=style.PALE, alpha=0.6)
        ends = [0.0, wide[1], np.nan, pull, pull], [cap, cap, np.nan, 0.0, tall[1]]
        ax.plot(*ends, "--", color=style.VERMILION)
        under = (0.0, low, "shaded: wanted", -12)  # a cap is above what is wanted, perhaps by a hair
        for x, y, name, up in (under, (0.0, cap, "cap", 3), (pull, 0.0, "greatest pull", 3)):
            if x < wide[1] and y < tall[1]:
                ax.annotate(name, (x, y), (4, up), textcoords="offset points", fontsize=style.SMALL)
        looks = ((".", style.GREY, 7, "refused"), ("o", style.SKY, 4, "meets all"),
                 ("D", style.BLUE, 4, "front"), ("*", style.BLACK, 13, "this one"))  # fmt: skip
        self._points = [ax.plot([], [], m, color=c, markersize=z, label=n)[0] for m, c, z, n in looks]
        self._range = ax.plot([], [], color=style.BLACK, marker="_", markersize=9)[0]
        title = "" if searched else "Your build as it is; not searched yet"
        if searched:
            style.key(ax, 1.6)
        self._points[0].set(markersize=2, alpha=0.3)  # thousands of them, but in the legend one to be seen
        style.dress(ax, style.label("pull at the catch", "force"), style.label("speed", "speed"), title)

    def draw_live(self, result: Order) -> list[Artist]:
        """The candidates, and the range of the one that is chosen."""
        if (plan := result.plan) is not None:
            kinds = {"force": "force", "speed": "speed", "low": "speed", "high": "speed"}
            force, speed, low, high = (style.shown(plan.values[name], kind) for name, kind in kinds.items())
            here = [] if result.place is None else [result.place]
            good = np.isin(np.arange(len(plan)), plan.order)
            for points, group in zip(self._points, (~good, good, plan.on_front, here), strict=True):
                points.set_data(force[group], speed[group])
            self._range.set_data(force[here * 2], [*low[here], *high[here]])
        else:
            self._points[3].set_data(*([style.shown(*each)] for each in _now(result).values()))
        return [*self._points, self._range]


def _now(result: Order) -> dict[str, tuple[Quantity, str]]:
    """Pull and speed of the build as it is, with their kinds."""
    return {
        "force": (result.build.prime.peak_force, "force"),
        "speed": (result.shot.muzzle_velocity, "speed"),
    }


def front_chart(found: Plan) -> Drawing:
    """Speed against pull: all that was shot, what meets all requirements, and the front.

    Parameters
    ----------
    found : Plan [-]
        From `plan_build`.

    Returns
    -------
    Drawing
        Points, the best or else the nearest one marked; `caption` names it [-].
    """
    order = Order(Stock(), found.wants, found.build, plan=found)
    return style.still(OrderView(), order, front_caption(found))
