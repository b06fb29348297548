"""The search panel: which parts on sale to order, for wants that are typed.

What it is for: `search_panel`, wants as boxes, lists by paste, a search that starts at its button and can be
stopped, and a candidate to keep beside the build.  What it leaves out: the search itself (``plan.search``).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from blasterlab import units
from blasterlab.bench.kept import Start, my_builds, recall
from blasterlab.build import Build
from blasterlab.faults import fault
from blasterlab.figures.order import OrderView
from blasterlab.panels.base import Panel
from blasterlab.panels.behind import Behind
from blasterlab.panels.caps import Cap, typed_cap
from blasterlab.panels.chronograph import CONFIDENCES
from blasterlab.panels.controls import Asked, Choice, Control, Paste
from blasterlab.plan.order import Order, read_lists
from blasterlab.plan.search import Plan, plan_build
from blasterlab.plan.shooting import Progress
from blasterlab.plan.stock import KINDS, demo_list
from blasterlab.plan.wants import KINDS as WANTED
from blasterlab.plan.wants import Wants
from blasterlab.report.plan import CAUTION, order_told

AIMS = {"at least": "least", "target": "target"}
WITHIN = {f"{share} %": 0.01 * share for share in (1, 2, 5, 10, 20)}
OWN, EACH, ANY = "your own", "yours; cap with each", "any on the list"
FIT, SALE = "Where it must fit, what it may cost", "Parts on sale"
_ZERO = "0 for no limit"
#: What the boxes call a want that has another name in code.
_LABELS = {"velocity_cap": "speed cap", "prime_force": "greatest pull",
           "least": "muzzle velocity", "target": "muzzle velocity"}  # fmt: skip
_LIST = "a list with its units in the first line, or the path of a CSV file; empty keeps your own"


def _controls(start: Start[Build]) -> tuple[Start[Build], list[Asked]]:
    """What can be asked; the build that stays stands behind."""
    sure = recall("confidence", CONFIDENCES) or "95 %"
    cap = Cap("velocity_cap", "speed cap", "speed", "0 m/s", "150 m/s", "52 m/s", "0.5 m/s", _ZERO).of_event()
    energy = Cap("energy_cap", "energy cap", "energy", "0 J", "20 J", "0 J", "0.05 J", _ZERO, None, FIT)
    most = cap.read(cap.default)
    wanted = "46 m/s" if most == 0.0 or most > 46.0 else units.quantity(max(0.9 * most, 5.0), "m/s")
    return start, [
        Choice("aim", "asked for", tuple(AIMS), "at least", "the least that will do, or a target"),
        Control("speed", "muzzle velocity", "speed", "5 m/s", "150 m/s", wanted, "0.5 m/s", "wanted"),
        Choice("within", "target, ±", tuple(WITHIN), "5 %", "used with a target", needs=("aim", "target")),
        cap,
        Choice("confidence", "confidence", tuple(CONFIDENCES), sure,
               "chance you want of staying under the caps", "", "confidence"),
        Choice("darts", "darts", (OWN, EACH, ANY), OWN, "with which the caps must hold"),
        Control("prime_force", "greatest pull", "force", "0 N", "400 N", "80 N", "1 N", _ZERO),
        energy.of_event(),
        Control("tube_diameter", "tube, outside", "length", "0 m", "0.12 m", "0 m", "1 mm", _ZERO, None, FIT),
        Control("overall_length", "tube + barrel", "length", "0 m", "1.5 m", "0 m", "5 mm", _ZERO, None, FIT),
        Control("price", "price", "number", 0, 500, 0, 1, f"of all parts; {_ZERO}", None, FIT),
        Control("lead_time", "lead time, days", "number", 0, 120, 0, 1, f"of all parts; {_ZERO}", None, FIT),
        *(Paste(kind, f"{kind}s", demo_list(kind), _LIST, rows=3, fold=SALE) for kind in KINDS),
        Control("candidate", "candidate", "number", 1, 100, 1, 1, "its number in the table"),
    ]  # fmt: skip


@contextmanager
def _as_labelled() -> Iterator[None]:
    """Faults name the wants as the boxes call them."""
    try:
        yield
    except ValueError as error:
        said = re.sub(r"wants\.(\w+)", lambda m: _LABELS.get(m[1], m[1].replace("_", " ")), str(error))
        raise units.UnitError(said) from error


@_as_labelled()
def _asked(state: Mapping[str, Any]) -> Order:
    """What these values ask for; a ValueError names the list or the want that cannot be."""
    stock, unread = read_lists({f"{kind}s": state[kind] for kind in KINDS})
    kept = [kind for kind in ("spring", "tube", "barrel") if not stock.of(kind)]
    given = {name: units.KINDS[kind].si for name, (kind, *_) in WANTED.items() if state.get(name)}
    limits: dict[str, Any] = {name: typed_cap(state[name], unit) for name, unit in given.items()}
    wants = Wants(
        **limits | {AIMS[state["aim"]]: units.quantity(state["speed"], "m/s")},
        within=WITHIN[state["within"]],
        confidence=CONFIDENCES[state["confidence"]],
        cap_darts=tuple(item.name for item in stock.of("dart")) if state["darts"] == EACH else (),
        price=f"{state['price']:.2f} {stock.currency or 'EUR'}" if state["price"] else None,
        lead_time=f"{state['lead_time']:.0f} days" if state["lead_time"] else None,
        owned=tuple(kept if state["darts"] == ANY else [*kept, "dart"]),
    )
    return Order(stock, wants, state["start"].value, unread)


def _key(state: Mapping[str, Any]) -> tuple[object, ...]:
    """All values that a search depends on, and the text of the build that stays."""
    return (state["start"].text, *(v for n, v in state.items() if n not in ("start", "candidate")))


@_as_labelled()
def _search(state: Mapping[str, Any], told: Progress) -> Plan:
    asked = _asked(state)
    return plan_build(asked.stock, asked.wants, asked.own, progress=told)


def search_panel(build: Build | None = None) -> Panel[Order]:
    """The panel that searches the parts on sale for a build that meets wants.

    Parameters
    ----------
    build : Build or None [-]
        What stays: stroke, seat, port, losses; None takes the build on the bench, or a demo.

    Returns
    -------
    Panel
        The panel; ``panel.press("Search")`` searches and waits, ``panel.result.plan`` is the plan [-].

    Raises
    ------
    UnitError
        A candidate beyond those that were found.
    """
    search = Behind(_search, _key)

    def compute(state: Mapping[str, Any]) -> Order:
        asked, found, chosen = _asked(state), search.found(state), round(state["candidate"])
        if found is not None and chosen > (most := max(len(found.order), 1)):
            raise units.UnitError(fault("candidate", str(chosen), f"1 to {most}, those that were found"))
        return replace(asked, plan=found, chosen=chosen)

    def text(state: Mapping[str, Any]) -> str:
        """The chosen candidate as text."""
        asked = compute(state)
        return str(state["start"].text) if asked.build is asked.own else asked.build.to_text()

    panel = Panel("Parts to order", _controls, compute, order_told, [OrderView()], CAUTION,
                  start=my_builds.begin(given=build), text=text)  # fmt: skip
    panel.makes = True
    search.add_to(panel, "Search", "shoot every combination", "what was found until then is kept")
    return panel
