"""blasterlab: an engineering kit for spring-powered foam-dart blasters.

Names are loaded when they are first used, so that the import itself stays quick.  Start with
``bl.demo_build(...)`` and ``bl.simulate(build)``; the notebooks show the rest.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

#: Public name -> the room that holds it.
_ROOMS = {
    "Air": "air",
    "BarrelSweep": "interior.sweep",
    "Build": "build",
    "BuildError": "build",
    "ChronoString": "bench.strings",
    "Chronograph": "bench.instrument",
    "DragTable": "exterior.drag",
    "FullChamber": "interior.full_chamber",
    "MakeUp": "exterior.pitch",
    "MeasuredGroup": "exterior.groups",
    "Projectile": "exterior.drag",
    "Quantity": "units",
    "Shot": "interior.shot",
    "Spring": "parts.spring",
    "SpringWaveShot": "interior.judge",
    "UnitError": "units",
    "VolumeMap": "interior.volume_ratio",
    "WaveShot": "interior.judge",
    "Wind": "exterior.conditions",
    "air_effect": "exterior.effects",
    "as_bought": "parts.spread",
    "barrel_sweep": "interior.sweep",
    "calibrate": "bench.calibrate",
    "cap_curve": "bench.cap_curve",
    "cap_risk_together": "bench.cap_risk",
    "coils_from_count": "bench.spring_rate",
    "coils_from_pitch": "bench.spring_rate",
    "coils_from_rate": "bench.spring_rate",
    "cut_list": "plan.cutting",
    "cut_to_reach": "plan.cutting",
    "cut_words": "plan.cutting",
    "demo_build": "build",
    "demo_builds": "build",
    "demo_string": "bench.demo",
    "demo_strings": "bench.demo",
    "drag_from_drop": "exterior.measured",
    "drag_from_time": "exterior.measured",
    "drag_from_two_speeds": "exterior.measured",
    "fly": "exterior.trajectory",
    "force_line": "checks.spring_limits",
    "full_chamber": "interior.full_chamber",
    "furthest": "exterior.aiming",
    "group": "exterior.dispersion",
    "held_pressure": "interior.full_chamber",
    "hold": "exterior.aiming",
    "hold_curve": "exterior.holds",
    "judge_checks": "interior.judge_checks",
    "lead": "exterior.aiming",
    "limits": "interior.limits",
    "loss_table": "exterior.effects",
    "nested_force": "parts.nest",
    "point_blank": "exterior.aiming",
    "predict": "bench.predict",
    "prime": "parts.prime",
    "prime_findings": "checks.prime",
    "rate_from_readings": "bench.spring_rate",
    "ratio_rule": "interior.volume_ratio",
    "shots_needed": "exterior.groups",
    "simulate": "interior.shot",
    "simulate_many": "interior.batch",
    "spring_findings": "checks.spring_findings",
    "spring_wave_shot": "interior.judge",
    "stacked": "parts.nest",
    "sweep": "interior.batch",
    "trust_grid": "interior.trust",
    "trust_summary": "interior.trust",
    "trust_table": "exterior.groups",
    "use_units": "units",
    "volume_map": "interior.volume_ratio",
    "wave_shot": "interior.judge",
    "with_cut": "plan.cutting",
    "zero": "exterior.aiming",
}

#: Names that stand for a whole module.
_WHOLE = {"limits"}

__all__ = sorted(_ROOMS)


def __getattr__(name: str) -> Any:
    if name not in _ROOMS:
        raise AttributeError(f"blasterlab has no {name!r}")
    room = import_module(f"blasterlab.{_ROOMS[name]}")
    value = room if name in _WHOLE else getattr(room, name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_ROOMS])
