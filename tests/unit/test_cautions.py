"""Cautions: a dart's energy beside published figures, and eye protection whatever they say."""

from __future__ import annotations

import html

import pytest

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.checks.cautions import EYE_RISKS, EYES, LAW, TIPS, contact_energy, impact_findings, in_an_eye
from blasterlab.page.share import page
from blasterlab.report.sheet import build_sheet


def test_a_smaller_tip_carries_more_on_its_area() -> None:
    flat = contact_energy("0.8 J", "12.7 mm").m_as("J/m^2")
    assert flat == pytest.approx(6315.2, abs=0.1)  # 0.8 J over pi (12.7 mm)^2 / 4, by hand
    for tip, share in TIPS.items():
        assert contact_energy("0.8 J", "12.7 mm", tip).m_as("J/m^2") == pytest.approx(flat / share)
    assert max(TIPS.values()) == TIPS["flat"] == 1.0


@pytest.mark.parametrize(
    ("energy", "tip", "words"),
    [
        ("0.8 J", "flat", "past the 50 % risk of corneal abrasion (1503 J/m²)"),
        ("0.1 J", "flat", "below the 50 % risk of corneal abrasion (1503 J/m²)"),
        ("0.8 J", "hard or pointed", "past the 50 % risk of retinal damage (30351 J/m²)"),
        ("0.07 J", "flat", "toys below 0.08 J have no such limit"),
        ("0.8 J", "rounded", "toys above 0.08 J may carry at most 2500 J/m²"),
    ],
)
def test_energy_stands_beside_the_published_figures(energy: str, tip: str, words: str) -> None:
    """ASTM F963-17 (two test laboratories' notices); Duma et al., J. Trauma 59, 960 (2005)."""
    figures, eyes = impact_findings(energy, "12.7 mm", tip)
    assert words in figures.message
    assert "not permission" in figures.message
    assert figures.source.startswith("ASTM F963-17")
    assert (eyes.severity, eyes.message) == ("caution", f"{EYES} {LAW}")


def test_the_published_risks() -> None:
    """Duma et al., J. Trauma 59, 960 (2005): normalised energy with a risk of 50 %."""
    assert list(EYE_RISKS.values()) == [1503.0, 19194.0, 20188.0, 23771.0, 30351.0]


@pytest.mark.parametrize(
    ("energy", "diameter", "tip", "name"),
    [
        ("1 J", "12.7 mm", "square", "tip"),
        ("-1 J", "12.7 mm", "flat", "energy"),
        ("1 J", "0 mm", "flat", "diameter"),
    ],
)
def test_what_cannot_be_is_refused(energy: str, diameter: str, tip: str, name: str) -> None:
    with pytest.raises(units.UnitError, match=f"^{name}:"):
        impact_findings(energy, diameter, tip)


def test_where_a_muzzle_energy_is_shown_its_caution_stands_beside_it() -> None:
    build = bl.demo_build("workhorse")
    shot = bl.simulate(build)
    told = f"{in_an_eye(shot.muzzle_energy, build.dart.diameter)}"
    assert "J on a flat tip is" in told
    assert "in an eye it is past the 50 % risk" in told
    for panel in (panels.barrel_panel(build), panels.trajectory_panel(build)):
        assert sum("J on a flat tip is" in line for line in panel.lines) == 1
        assert any(EYES in html.unescape(getattr(child, "value", "")) for child in panel.children)
    compared = bl.compare_builds([build, build.replace({"barrel.length": "20 cm"})])
    for text in (" ".join(str(one).split()) for one in (shot, compared, build_sheet(build), page(build))):
        assert text.count(told) == 1
        assert EYES in text
    stuck = build.replace({"losses.dart_breakaway": "100 N"})
    assert "flat tip" not in f"{bl.simulate(stuck)} {build_sheet(stuck)} {page(stuck)}"
