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
    "BarrelSweep": "shot.barrel_sweep",
    "Build": "build",
    "BuildError": "build",
    "ChronoString": "bench.strings",
    "Chronograph": "bench.instrument",
    "DragTable": "flight.drag_table",
    "FullChamber": "closed_forms.prefilled",
    "Launch": "flight.launch",
    "MakeUp": "flight.stability",
    "MeasuredGroup": "flight.measured_group",
    "Projectile": "flight.projectile",
    "Quantity": "units",
    "Shot": "shot.simulate",
    "Spring": "parts.spring",
    "SpringWaveShot": "waves.second_opinion",
    "UnitError": "units",
    "VolumeMap": "shot.volume_map",
    "WaveShot": "waves.second_opinion",
    "Wind": "flight.wind",
    "air_effect": "flight.range_tables",
    "as_bought": "parts.rate_tolerance",
    "barrel_sweep": "shot.barrel_sweep",
    "blocked_pressure": "checks.strength",
    "burst_margin": "checks.strength",
    "calibrate": "bench.calibrate",
    "cap_curve": "bench.cap_curve",
    "cap_risk_together": "bench.cap_together",
    "coils_from_count": "bench.coil_count",
    "coils_from_pitch": "bench.coil_count",
    "coils_from_rate": "bench.coil_count",
    "cut_list": "plan.cutting",
    "cut_to_reach": "plan.cutting",
    "cut_words": "report.cutting",
    "demo_build": "build",
    "demo_builds": "build",
    "demo_string": "bench.demo",
    "demo_strings": "bench.demo",
    "drag_from_drop": "flight.measured_drag",
    "drag_from_time": "flight.measured_drag",
    "drag_from_two_speeds": "flight.measured_drag",
    "fly": "flight.fly",
    "force_line": "checks.spring_limits",
    "full_chamber": "closed_forms.prefilled",
    "furthest": "flight.aiming",
    "glue_shear": "checks.strength",
    "group": "flight.dispersion",
    "held_pressure": "closed_forms.compression",
    "hold": "flight.aiming",
    "hold_curve": "flight.hold_curve",
    "html": "report",
    "lead": "flight.aiming",
    "leak_from_leak_down": "checks.seal_friction",
    "limits": "closed_forms.limits",
    "loss_table": "flight.range_tables",
    "model_grid": "waves.model_grid",
    "model_grid_summary": "waves.model_grid",
    "nested_force": "parts.nest",
    "nested_tubes": "checks.fit",
    "point_blank": "flight.aiming",
    "predict": "bench.predict",
    "prime": "parts.prime",
    "prime_findings": "checks.prime",
    "range_of": "shot.speed_range",
    "rate_from_readings": "bench.spring_rate",
    "ratio_rule": "shot.volume_map",
    "rings_for": "checks.seal",
    "seal_fit": "checks.seal",
    "seal_friction": "checks.seal_friction",
    "seal_travel": "checks.fit",
    "shots_needed": "flight.group_statistics",
    "simulate": "shot.simulate",
    "simulate_many": "shot.many",
    "spring_findings": "checks.spring_findings",
    "spring_wave_shot": "waves.second_opinion",
    "stacked": "parts.nest",
    "stop_load": "checks.strength",
    "sweep": "shot.variants",
    "trust_table": "flight.group_statistics",
    "tube_stress": "checks.strength",
    "use_units": "units",
    "validation": "waves.validation",
    "volume_map": "shot.volume_map",
    "wave_shot": "waves.second_opinion",
    "with_cut": "plan.cutting",
    "words": "report",
    "wraps_for": "checks.seal",
    "zero": "flight.aiming",
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
