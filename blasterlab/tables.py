"""Published and invented tables that travel with the kit, each with its source on its first line.

What it is for: find ``data/`` whatever the working directory, in a checkout or in an installed wheel, and
read a table from it.  What it leaves out: interpolation and judgement, which belong to the rooms that use
a table.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd
else:

    class _Pandas:
        """pandas, which takes a third of a second to load: imported when one of its names is first used."""

        def __getattr__(self, name: str) -> Any:
            import pandas

            return getattr(pandas, name)

    pd = _Pandas()


def data_folder() -> Path:
    """The folder with builds, strings, stock, tables and reference values.

    Returns
    -------
    Path
        An existing folder [-].

    Raises
    ------
    FileNotFoundError
        When the installation lacks its data.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / "data", package.parent / "data"):
        if (folder / "tables").is_dir():
            return folder
    raise FileNotFoundError(
        f"blasterlab's data folder is missing beside {package}; install the package again"
    )


def names(folder: str, suffix: str) -> list[str]:
    """The file names, without suffix, in one of the data folders.

    Parameters
    ----------
    folder : str [-]
        ``builds``, ``strings``, ``stock``, ``tables`` or ``reference``.
    suffix : str [-]
        Such as ``.toml``.

    Returns
    -------
    list of str
        Sorted names [-].
    """
    return sorted(path.stem for path in (data_folder() / folder).glob(f"*{suffix}"))


def source(name: str) -> str:
    """The source line of a table.

    Parameters
    ----------
    name : str [-]
        Such as ``"tables/wire_a228"``.

    Returns
    -------
    str
        The first line without its comment mark [-].
    """
    with (data_folder() / f"{name}.csv").open(encoding="utf-8") as lines:
        return lines.readline().lstrip("# ").strip()


@lru_cache(maxsize=64)
def read(name: str) -> pd.DataFrame:
    """A table as a DataFrame; do not change it in place, it is shared.

    Parameters
    ----------
    name : str [-]
        Such as ``"tables/wire_a228"``.

    Returns
    -------
    DataFrame
        Columns named with their units, as in the file.
    """
    return pd.read_csv(data_folder() / f"{name}.csv", comment="#", skipinitialspace=True)
