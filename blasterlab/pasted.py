"""A build text in the middle of a post: what forums do to it is undone, what people write around it left out.

What it is for: text copied from a forum, a chat or a mail: quoted, with curly quotes, wrapped, with words
round it.  What it leaves out: reading it (``buildtext``), which tries a text as it is first.
"""

from __future__ import annotations

import re

#: Marks of a quotation or of code at the start of a line, a mark of code at its end, and lone fences.
_MARKS = re.compile(
    r"^[\s>\u200b\ufeff]*(?:\[(?:code|quote|pre)\b[^\]]*\][\s>]*)*|\s*(?:\[/(?:code|quote|pre)\])*\s*$",
    re.IGNORECASE,
)
_FENCE = re.compile(r"(?:`{3,}|~{3,})\w*$")
#: A build text begins with such a line ...
_FIRST = re.compile(
    r"\[{1,2}(?:springs?|chamber|barrel|dart|losses|air|fit|calibration)\]{1,2}|[A-Za-z_][\w.]*\s*="
)
#: ... and ends with such a one, or with a slip of the pen that is to be told and not left out.
_LAST = re.compile(_FIRST.pattern + r"|[a-z]+_\w+|\w+\s*[\"“]")
_TEXT = re.compile(r'"(?:\\.|[^"\\])*"')
_CURLY = str.maketrans("“”„‟″", '"""""')
_LONGEST = 8000  # characters of one line that was wrapped


def build_text_in(text: str) -> str:
    """The build text inside a longer text, "" where there is none.

    Parameters
    ----------
    text : str [-]
        A post.

    Returns
    -------
    str
        From the first to the last line of the build, blank lines in place of what stood around them, so that
        a message that counts lines counts those of the post [-].

    Examples
    --------
    >>> build_text_in("Hi!\\n> title = “A”\\n> dart = { mass =\\n> “1 g” }\\nBye").strip()
    'title = "A"\\ndart = { mass = "1 g" }'
    """
    raw = text.splitlines()
    lines = [_cleaned(line) for line in raw]
    first = next((n for n, line in enumerate(lines) if _FIRST.match(line)), len(lines))
    begun = first
    for n in range(first + 1, len(lines)):
        if lines[begun] and _open(lines[begun]) and len(lines[begun]) < _LONGEST:  # wrapped: it goes on here
            lines[begun], lines[n] = f"{lines[begun]} {lines[n]}", ""
        else:
            begun = n
    last = max((n for n in range(first, len(lines)) if _LAST.match(lines[n])), default=-1)
    while last + 1 < len(lines) and lines[last + 1] and not raw[last].rstrip().endswith("]"):
        last += 1  # what follows without a gap is a slip rather than prose
    return "\n".join(line if first <= n <= last else "" for n, line in enumerate(lines)).rstrip()


def _cleaned(line: str) -> str:
    line = _MARKS.sub("", line.replace("\xa0", " "))
    line = line if '"' in line else line.translate(_CURLY)
    return "" if _FENCE.match(line) else line


def _open(line: str) -> bool:
    """Whether a line opens a text, a brace or a bracket that it does not close."""
    bare = _TEXT.sub("", line).partition("#")[0]
    return '"' in bare or sum(bare.count(mark) for mark in "{[") > sum(bare.count(mark) for mark in "}]")
