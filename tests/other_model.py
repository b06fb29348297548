"""The shot's equations a second time, written from their description alone, for scipy's integrators.

Plain Python floats and a dictionary of modes; nothing is taken from the kit but the names of the parameters.
One call of `shoot` follows the plunger and the dart through every event by restarting ``solve_ivp``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

G = 1.4
LIMIT = 0.5


def psi(r: float) -> float:
    """Saint-Venant and Wantzel; below 0.999 as it stands, above an odd cubic of the same value and slope."""
    if r <= (2.0 / (G + 1.0)) ** (G / (G - 1.0)):
        return math.sqrt(G) * (2.0 / (G + 1.0)) ** ((G + 1.0) / (2.0 * (G - 1.0)))
    return _cubic(r, 0.999) if r > 0.999 else _law(r)


def psi_leak(r: float) -> float:
    """The same for the small leaks, with the cubic from 0.99."""
    return psi(r) if r <= 0.99 else _cubic(r, 0.99)


def _law(r: float) -> float:
    return math.sqrt(2.0 * G / (G - 1.0) * (r ** (2.0 / G) - r ** ((G + 1.0) / G)))


def _cubic(r: float, r0: float) -> float:
    edge, value = 1.0 - r0, _law(r0)
    inside = 2.0 / G * r0 ** (2.0 / G - 1.0) - (G + 1.0) / G * r0 ** (1.0 / G)
    slope = -G / (G - 1.0) * inside / value  # against 1 - r
    b = (slope * edge - value) / (2.0 * edge**3)
    a = value / edge - b * edge**2
    return a * (1.0 - r) + b * (1.0 - r) ** 3


def hole(
    area: float, pa: float, ta: float, pb: float, tb: float, gas: float, law: Callable[[float], float]
) -> tuple[float, float]:
    """Mass and enthalpy flow from a to b."""
    cp = G * gas / (G - 1.0)
    if pa >= pb:
        flow = area * pa / math.sqrt(gas * ta) * law(pb / pa)
        return flow, flow * cp * ta
    flow = area * pb / math.sqrt(gas * tb) * law(pa / pb)
    return -flow, -flow * cp * tb


class Model:
    """A shot in the making: its parameters and its modes."""

    def __init__(self, p: Any) -> None:
        self.p = p
        self.plunger = 0
        self.dart = 0
        self.nose_out = p.length <= p.dart_length
        self.evaluations = 0

    def gas(self, z: Any) -> tuple[float, float, float, float]:
        """Pressures and temperatures of chamber and barrel."""
        p = self.p
        cv = p.gas_constant / (G - 1.0)
        s, _, m1, e1, y, _, m2, e2 = z
        m1, e1, m2, e2 = max(m1, 1e-12), max(e1, 1e-12), max(m2, 1e-12), max(e2, 1e-12)  # a wild trial step
        p1 = (G - 1.0) * e1 / (p.plunger_area * (p.stroke - s) + p.chamber_dead)
        p2 = (G - 1.0) * e2 / (p.barrel_dead + p.barrel_area * y)
        return p1, p2, e1 / (m1 * cv), e2 / (m2 * cv)

    def push(self, z: Any, p1: float) -> float:
        """Force on the plunger without friction."""
        p, force = self.p, 0.0
        for rate, squeeze in (
            (p.rate1, p.catch_compression1),
            (p.rate2, p.catch_compression2),
            (p.rate3, p.catch_compression3),
        ):
            force += rate * max(squeeze - z[0], 0.0)
        return force - (p1 - p.ambient_pressure) * p.plunger_area

    def slopes(self, t: float, z: Any) -> list[float]:
        """Time derivatives of s, u, m1, e1, y, w, m2, e2."""
        self.evaluations += 1
        z = z.tolist()  # Python's floats are quicker one by one than numpy's
        p, pa = self.p, self.p.ambient_pressure
        p1, p2, t1, t2 = self.gas(z)
        port, heat = hole(p.port_area, p1, t1, p2, t2, p.gas_constant, psi)
        leak, leak_heat = hole(p.seal_leak_area, p1, t1, pa, p.ambient_temperature, p.gas_constant, psi_leak)
        blow, blow_heat = hole(p.blowby_area, p2, t2, pa, p.ambient_temperature, p.gas_constant, psi_leak)
        u, w = z[1], z[5]
        du = dw = 0.0
        if self.plunger:
            friction = p.seal_friction + p.seal_friction_per_pressure * max(p1 - pa, 0.0)
            du = (self.push(z, p1) - self.plunger * friction) / p.plunger_mass
        dm2 = port - blow
        if self.dart:
            friction = p.dart_friction + p.dart_friction_per_pressure * max(p2 - pa, 0.0)
            if self.nose_out:
                friction *= (p.length - z[4]) / p.dart_length
            column = p.air_ahead * pa / (p.gas_constant * p.ambient_temperature) * p.barrel_area
            ahead = 0.0 if self.nose_out else column * (p.length - p.dart_length - z[4])
            mass = p.dart_mass + p.gas_inertia * z[6] / 3.0 + ahead
            force = (p2 - pa) * p.barrel_area - self.dart * friction - p.gas_inertia * dm2 * w / 6.0
            dw = force / mass
        de1 = -heat - leak_heat + p1 * p.plunger_area * u
        de2 = heat - blow_heat - p2 * p.barrel_area * w
        return [u, du, -port - leak, de1, w, dw, dm2, de2]

    def settle(self, z: Any) -> None:
        """What is held starts when the force on it is larger than what holds it."""
        p, (p1, p2, _, _) = self.p, self.gas(z)
        if not self.plunger:
            hold = p.seal_breakaway + p.seal_friction_per_pressure * max(p1 - p.ambient_pressure, 0.0)
            net = self.push(z, p1)
            if net >= hold * (1 - 1e-9) and z[0] < p.stroke:
                self.plunger = 1
            elif -net >= hold * (1 - 1e-9) and z[0] > 0.0:
                self.plunger = -1
        if not self.dart:
            hold = p.dart_breakaway + p.dart_friction_per_pressure * max(p2 - p.ambient_pressure, 0.0)
            if (p2 - p.ambient_pressure) * p.barrel_area >= hold * (1 - 1e-9):
                self.dart = 1

    def events(self) -> dict[str, Callable[[float, Any], float]]:
        """What may happen next, as functions that rise through zero."""
        p = self.p
        found: dict[str, Callable[[float, Any], float]] = {}
        if self.plunger > 0:
            found["stop"] = lambda t, z: z[0] - p.stroke
        if self.plunger:
            sign = self.plunger
            found["turn"] = lambda t, z: -sign * z[1]
        else:
            found["release"] = self._release
        if self.dart:
            found["exit"] = lambda t, z: z[4] - p.length
            found["stall"] = lambda t, z: -z[5]
            if not self.nose_out:
                found["nose"] = lambda t, z: z[4] - (p.length - p.dart_length)
        else:
            found["breakaway"] = self._breakaway
        for event in found.values():
            if hasattr(event, "__func__"):
                continue
            event.terminal, event.direction = True, 1.0  # type: ignore[attr-defined]
        return found

    def _release(self, t: float, z: Any) -> float:
        p, (p1, _, _, _) = self.p, self.gas(z)
        return (
            abs(self.push(z, p1))
            - p.seal_breakaway
            - p.seal_friction_per_pressure * max(p1 - p.ambient_pressure, 0.0)
        )

    def _breakaway(self, t: float, z: Any) -> float:
        p, (_, p2, _, _) = self.p, self.gas(z)
        excess = p2 - p.ambient_pressure
        return excess * p.barrel_area - p.dart_breakaway - p.dart_friction_per_pressure * max(excess, 0.0)

    _release.terminal = _breakaway.terminal = True  # type: ignore[attr-defined]
    _release.direction = _breakaway.direction = 1.0  # type: ignore[attr-defined]


def shoot(p: Any, method: str = "DOP853", rtol: float = 1e-10) -> tuple[float, float, int]:
    """Muzzle velocity (NaN when the dart stays in), time, and the number of evaluations."""
    pa, share = p.ambient_pressure, 1.0 / (G - 1.0)
    v1, v2 = p.plunger_area * p.stroke + p.chamber_dead, p.barrel_dead
    specific = p.gas_constant * p.ambient_temperature
    z = np.array(
        [0.0, 0.0, pa * v1 / specific, pa * v1 * share, 0.0, 0.0, pa * v2 / specific, pa * v2 * share]
    )
    atol = rtol * np.array([p.stroke, 1.0, z[2], z[3], p.length, 1.0, z[6], z[7]])
    model, t = Model(p), 0.0
    model.settle(z)
    while t < LIMIT:
        events = model.events()
        run = solve_ivp(
            model.slopes, (t, LIMIT), z, method, events=list(events.values()), rtol=rtol, atol=atol
        )
        if run.status != 1:
            break
        t, z = float(run.t[-1]), run.y[:, -1].copy()
        name = next(n for n, times in zip(events, run.t_events, strict=True) if len(times))
        if name == "exit":
            return float(z[5]), t, model.evaluations
        if name == "stop":
            z[0], z[1], model.plunger = p.stroke, -p.stop_restitution * z[1], 0
            if z[1] < 0.0:
                model.plunger = -1
        elif name == "turn":
            z[1], model.plunger = 0.0, 0
        elif name == "stall":
            return math.nan, t, model.evaluations
        elif name == "nose":
            model.nose_out = True
        model.settle(z)
    return math.nan, t, model.evaluations
