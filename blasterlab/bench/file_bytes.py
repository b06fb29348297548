"""Text from bytes and files: what a chronograph or a spreadsheet exports.

What it is for: decoding by byte-order mark, UTF-8 or Windows-1252, and a clear word where a file is no text.
What it leaves out: what the text says, so any units.
"""

from __future__ import annotations

from pathlib import Path

from blasterlab.bench.cells import MAX_TEXT, StringError

_BINARY = {
    b"PK\x03\x04": "a spreadsheet or another zip file",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"\x1f\x8b": "a compressed file",
}
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_HOW = "in the spreadsheet, save as CSV (text) or copy the column of speeds and paste that"


def decode(data: bytes) -> tuple[str, list[str]]:
    """Text from bytes: by byte-order mark, else UTF-8, else Windows-1252 with a note.

    Parameters
    ----------
    data : bytes [-]
        A file's content.

    Returns
    -------
    tuple of str and list of str
        The text and what was noticed [-].

    Raises
    ------
    StringError
        Binary content: a spreadsheet, a picture, a PDF, or bytes no text has.
    """
    _refuse_binary(data)
    for mark, coding in _MARKS:
        if data.startswith(mark):
            try:
                return data[len(mark) :].decode(coding), []
            except UnicodeDecodeError as error:
                raise StringError(f"the text: it starts as {coding} but breaks off; {_HOW}") from error
    if b"\x00" in data:
        raise StringError(f"the text: it holds zero bytes, so it is no text; {_HOW}")
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError:
        note = "the text is not UTF-8; it was read as Windows-1252 (names may look odd, numbers do not)"
        return data.decode("cp1252", errors="replace"), [note]


def _refuse_binary(data: bytes) -> None:
    for mark, what in _BINARY.items():
        if data.startswith(mark):
            raise StringError(f"the text: this is {what}, not text; {_HOW}")


def refuse_no_text(text: str) -> None:
    """StringError for a text that is too large, or that was pasted from something binary; no units."""
    if len(text) > MAX_TEXT:
        raise StringError(f"the text: {len(text)} characters; at most {MAX_TEXT} are taken")
    _refuse_binary(text[:8].encode("latin-1", errors="replace"))
    if "\x00" in text or text.count("�") > 20:
        raise StringError(f"the text: this is binary data, not text; {_HOW}")


def read_file(path: Path) -> bytes:
    """The content of a file, refused when it is no plain file or too large.

    Parameters
    ----------
    path : Path [-]
        A file.

    Returns
    -------
    bytes
        For `decode` [-].

    Raises
    ------
    StringError
        No such file, a folder or a device, or more than 1 MB.
    """
    try:
        ordinary = path.is_file()
    except (OSError, ValueError):  # a name that no file can have
        ordinary = False
    if not ordinary:
        raise StringError(f"the file: {str(path)[:200]!r} is not a file that can be read")
    with path.open("rb") as stream:
        data = stream.read(MAX_TEXT + 1)
    if len(data) > MAX_TEXT:
        raise StringError(f"the file: more than {MAX_TEXT // 1_000_000} MB; a string of shots is far smaller")
    return data
