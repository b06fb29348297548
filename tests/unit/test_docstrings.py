"""The package keeps the docstring rules, and every rule catches a module that breaks it."""

from __future__ import annotations

from pathlib import Path

import docstring_rules as rules
import pytest

import blasterlab

PACKAGE = Path(blasterlab.__file__).parent

#: Name -> why a rule does not apply. Kept short; a name that keeps the rules must leave the list.
EXCUSED = {
    "compiled.compiled": "a decorator: takes and returns a function",
    "compiled.compiled_parallel": "a decorator: takes and returns a function",
}


def faults(rule: rules.Rule, package: Path) -> list[str]:
    return [fault for fault in rule(package) if fault.split(":")[0] not in EXCUSED]


@pytest.mark.parametrize("rule", rules.RULES, ids=lambda rule: rule.__name__)
def test_the_package_keeps(rule: rules.Rule) -> None:
    found = faults(rule, PACKAGE)
    assert not found, "\n" + "\n".join(found)


def test_excuses_are_still_needed() -> None:
    broken = {fault.split(":")[0] for rule in rules.RULES for fault in rule(PACKAGE)}
    assert set(EXCUSED) - broken == set()


def test_every_public_name_is_there_and_has_words() -> None:
    assert len(blasterlab.__all__) > 3
    for name in set(blasterlab.__all__) - {"Quantity"}:  # pint's own class
        assert getattr(blasterlab, name).__doc__, name


GOOD = '''"""Springs: rate and energy. Leaves out torsion."""

from dataclasses import dataclass

class SpringError(ValueError):
    """A spring that cannot be."""

@dataclass(frozen=True)
class Spring:
    """A coil spring.

    Parameters
    ----------
    rate : Quantity [N/m]
        Its rate.
    ends : str [-]
        Its ends.
    """

    rate: float
    ends: str = "closed"

    @property
    def length(self) -> float:
        """Free length [m]."""
        return 1.0

def energy(spring: Spring, near: float, far: float = 0.0) -> float:
    """Energy between two compressions: k (b² - a²) / 2.

    Parameters
    ----------
    spring : Spring
        The spring, in SI units.
    near, far : float [m]
        Compressions.

    Returns
    -------
    float
        Energy [J].

    Raises
    ------
    SpringError
        When far is below near.

    Notes
    -----
    Linear.
    """
    if far < near:
        raise SpringError("far < near")
    return 0.5 * spring.rate * (far**2 - near**2)

def short(x: float) -> float:
    """Twice a length [m]; ValueError when it is negative."""
    if x < 0:
        raise ValueError("negative")
    return 2 * x

def _private(x):
    return x
'''
DOOR = "from .spring import Spring\nfrom .spring import energy\n"

MUTANTS: list[tuple[rules.Rule, str, str]] = [
    (rules.documented, '"""Springs: rate and energy. Leaves out torsion."""', ""),
    (rules.documented, "A coil spring.\n\n    ", ""),
    (rules.documented, '"""A spring that cannot be."""', "pass"),
    (rules.documented, '"""Free length [m]."""', '"""[m]"""'),
    (rules.long_form, "    Returns\n    -------\n    float\n        Energy [J].\n\n", ""),
    (rules.long_form, "Twice a length [m]; ", "Twice a length; "),
    (rules.parameters, "    near, far : float [m]", "    near : float [m]"),
    (rules.parameters, "    near, far : float [m]", "    far, near : float [m]"),
    (rules.parameters, "far: float = 0.0", "far: float = 0.0, more: float = 1.0"),
    (rules.parameters, "far: float = 0.0", "beyond: float = 0.0"),
    (rules.parameters, "    ends : str [-]\n        Its ends.\n", ""),
    (rules.parameters, '    ends: str = "closed"\n', '    ends: str = "closed"\n    coils: int = 3\n'),
    (rules.units, "near, far : float [m]", "near, far : float"),
    (rules.units, "        Energy [J].", "        Energy."),
    (rules.units, "Free length [m].", "Free length."),
    (rules.units, "far: float = 0.0) -> float:", "far: float = 0.0) -> None:"),
    (rules.order, "    Notes\n    -----\n    Linear.\n", "    Remarks\n    -------\n    Linear.\n"),
    (rules.order, "    Notes\n    -----\n    Linear.\n", "    Parameters\n    ----------\n    Linear.\n"),
    (rules.raises, "    SpringError\n        When", "    UnitError\n        When"),
    (rules.raises, "    Raises\n    ------\n    SpringError\n        When far is below near.\n\n", ""),
    (rules.raises, "    SpringError\n        When", "    ArithmeticError\n        When"),
    (rules.raises, "ValueError when it is negative", "never negative"),
    (rules.raises, '    if far < near:\n        raise SpringError("far < near")\n', ""),
    (
        rules.raises,
        '; ValueError when it is negative."""\n    if x < 0:\n        raise ValueError("negative")',
        '."""\n    if x < 0:\n        raise _private(x)',
    ),
]


def write(folder: Path, text: str, door: str = DOOR) -> Path:
    (folder / "__init__.py").write_text('"""The door."""\n', encoding="utf-8")
    (folder / "__init__.pyi").write_text(door, encoding="utf-8")
    (folder / "spring.py").write_text(text, encoding="utf-8")
    return folder


def test_a_good_module_keeps_every_rule(tmp_path: Path) -> None:
    package = write(tmp_path, GOOD)
    assert [fault for rule in rules.RULES for fault in rule(package)] == []


def test_the_interface_needs_the_long_form(tmp_path: Path) -> None:
    package = write(tmp_path, GOOD, DOOR.replace("energy", "short"))
    assert list(rules.long_form(package)) == ["spring.short: no Parameters", "spring.short: no Returns"]


def test_what_the_interface_returns_belongs_to_it(tmp_path: Path) -> None:
    door = DOOR.replace("from .spring import Spring\n", "")
    text = GOOD + '\ndef energy(x: float) -> Spring:\n    """A spring of some rate."""\n'
    assert rules.interface(write(tmp_path, text, door)) == {"energy", "Spring"}


def test_a_family_of_errors_may_be_listed_by_its_head(tmp_path: Path) -> None:
    text = GOOD.replace("    SpringError\n        When", "    ValueError\n        When")
    assert list(rules.raises(write(tmp_path, text))) == []


def test_every_rule_has_mutants() -> None:
    assert {rule for rule, _, _ in MUTANTS} == set(rules.RULES)


@pytest.mark.parametrize(("rule", "old", "new"), MUTANTS)
def test_rule_catches(rule: rules.Rule, old: str, new: str, tmp_path: Path) -> None:
    assert GOOD.count(old) >= 1
    assert list(rule(write(tmp_path, GOOD.replace(old, new, 1))))
