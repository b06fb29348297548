"""Cut lists of a spring in words.

What it is for: one sentence a cut.  What it leaves out: any computing; lengths and speeds come in SI.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from blasterlab import units

if TYPE_CHECKING:
    import pandas as pd


def cut_words(table: pd.DataFrame) -> list[str]:
    """A cut list in words, one sentence a cut.

    Parameters
    ----------
    table : DataFrame [-]
        From `cut_list`.

    Returns
    -------
    list of str
        Such as ``"cut 12 mm: +6 % rate, -12 % energy at the same catch, 57.5 m/s"`` [-].
    """
    words = []
    for row in table.iloc[1:].to_dict("records"):
        loose = f", loose by {units.show(row['gap_m'], 'length', 3)}" if row["gap_m"] > 0 else ""
        words.append(
            f"cut {units.show(row['cut_off_m'], 'length', 3)}: {100 * row['rate_change']:+.0f} % rate, "
            f"{100 * row['energy_change']:+.0f} % energy at the same catch, "
            f"{units.show(row['muzzle_velocity_m_s'], 'speed', 3)}{loose}"
        )
    return words
