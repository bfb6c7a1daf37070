"""A job file as text, with rows put into its bars and its drawings named elsewhere; every other sign is kept."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from fabplan.job.starter import quoted

_TABLE = re.compile(r"^[ \t]*(\[\[?)([^\[\]\n]+)\]\]?[ \t]*(?:#[^\n]*)?$", re.MULTILINE)

Keys = Mapping[str, str | float | tuple[float, ...]]
"""Keys of a row, as the job file writes them."""


def row_line(row: Keys) -> str:
    """A row of a bar as an entry of its `rows`.

    >>> row_line({"row": "floor", "leg": "a", "back_mark": 22.0, "first": 20.0, "last": 980.0, "count": 25})
    '{ row = "floor", leg = "a", back_mark = 22, first = 20, last = 980, count = 25 }'
    """
    return "{ " + ", ".join(f"{key} = {_value(value)}" for key, value in row.items()) + " }"


def _value(value: str | float | tuple[float, ...]) -> str:
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, tuple):
        return f"[{', '.join(map(_figure, value))}]"
    return _figure(value)


def _figure(value: float) -> str:
    """A length to a millionth of a millimetre, without noughts at its end."""
    return f"{round(value, 6):.6f}".rstrip("0").rstrip(".")


def with_rows(text: str, rows: Mapping[str, Sequence[Keys]], drawings: str) -> str | None:
    """The text of a job file with more rows in its bars.

    None where it cannot be done without touching what somebody wrote otherwise, as where the parts stand in a sheet of
    their own: what comes out is read again and held against what was meant.

    Args:
        text: the job file.
        rows: new rows by the mark of the part.
        drawings: the folder of the drawings, as it is to stand in [job].
    """
    try:
        meant = tomllib.loads(text)
        _put_in(meant, rows, drawings)
        for mark, own in rows.items():
            text = _in_part(text, mark, [row_line(row) for row in own])
        text = _in_job(text, drawings)
        return text if tomllib.loads(text) == meant else None
    except (tomllib.TOMLDecodeError, LookupError, AttributeError, TypeError):
        return None


def _put_in(raw: dict[str, Any], rows: Mapping[str, Sequence[Keys]], drawings: str) -> None:
    """The same in what the text means."""
    for mark, own in rows.items():
        part = next(part for part in raw["part"] if str(part.get("mark", "")).strip() == mark)
        read = [tomllib.loads(f"row = {row_line(row)}")["row"] for row in own]
        part["rows"] = [*part.get("rows", []), *read]
    raw.setdefault("job", {})["drawings"] = drawings


def _tables(text: str) -> list[tuple[str, int, int]]:
    """Headers of the tables, and where what stands in each begins and ends."""
    heads = list(_TABLE.finditer(text))
    stops = [head.start() for head in heads[1:]] + [len(text)]
    return [(f"{head[1]}{head[2].strip()}", head.end(), stop) for head, stop in zip(heads, stops, strict=True)]


def _in_part(text: str, mark: str, lines: Sequence[str]) -> str:
    """The text with rows in the part that bears a mark."""
    for name, start, stop in _tables(text):
        body = text[start:stop]
        if name != "[[part" or str(_own(body).get("mark", "")).strip() != mark:
            continue
        opening = re.search(r"^[ \t]*rows[ \t]*=[ \t]*\[", body, re.MULTILINE)
        if opening is None:
            added = "\nrows = [\n" + "".join(f"  {line},\n" for line in lines) + "]"
            return text[: start + len(body.rstrip())] + added + text[start + len(body.rstrip()) :]
        close = start + _closing(body, opening.end())
        before = text[:close].rstrip()
        comma = "" if before.endswith((",", "[")) else ","
        return before + comma + "\n" + "".join(f"  {line},\n" for line in lines) + text[close:]
    raise LookupError(mark)


def _own(body: str) -> dict[str, Any]:
    return tomllib.loads(body)


def _closing(body: str, start: int) -> int:
    """Where the bracket that was opened before `start` closes; brackets in texts and comments aside."""
    depth, inside, k = 1, "", start
    while depth:
        sign = body[k]
        if inside:
            inside = "" if sign == inside and body[k - 1] != "\\" else inside
        elif sign in "\"'":
            inside = sign
        elif sign == "#":
            k = body.index("\n", k)
        else:
            depth += {"[": 1, "]": -1}.get(sign, 0)
        k += 1
    return k - 1


def _in_job(text: str, drawings: str) -> str:
    """The text with another folder of drawings in [job]."""
    line = f"drawings = {quoted(drawings)}"
    for name, start, stop in _tables(text):
        if name == "[job":
            stated = re.search(r"^[ \t]*drawings[ \t]*=[^\n]*$", text[start:stop], re.MULTILINE)
            if stated is None:
                return f"{text[:start]}\n{line}{text[start:]}"
            return text[: start + stated.start()] + line + text[start + stated.end() :]
    return f"[job]\n{line}\n\n{text}" if not text.startswith("[job]") else text
