"""Faults of the job file in words: where it stands, what is wrong, what was expected, the nearest valid name."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import SequenceMatcher, get_close_matches
from typing import Any

from pydantic import ValidationError

from fabplan.errors import Fault
from fabplan.job import form
from fabplan.job.fields import Form

EXPECTED = {
    "float_type": "Expected a number, without quotation marks.",
    "finite_number": "Expected a finite number.",
    "int_type": "Expected a whole number, without quotation marks.",
    "bool_type": "Expected true or false.",
    "string_type": "Expected words in quotation marks.",
    "tuple_type": "Expected a list in brackets.",
    "model_type": "Expected a table of keys.",
    "string_pattern_mismatch": 'Marks and rows hold no "/" and no control signs.',
    "string_too_short": "Expected words, at least {min_length} signs.",
    "string_too_long": "Expected at most {max_length} signs.",
}
LIMITS = {
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than": "less than {lt:g}",
    "less_than_equal": "at most {le:g}",
    "too_short": "at least {min_length} entries",
    "too_long": "at most {max_length} entries",
}
LIKE = 0.6  # of the likeness of the nearest name, which another must have to be named beside it
LONGEST = 40  # signs of a value shown in a message


def nearest(name: str, valid: Iterable[str]) -> str:
    """A sentence with the nearest valid names, else with the first of all of them; "" where there are none.

    >>> nearest("thicknes", ["thickness", "length"]), nearest("zz", ["a", "b"]), nearest("zz", [])
    ('Nearest: thickness.', 'Known: a, b.', '')
    """
    names = sorted(set(valid))
    close = get_close_matches(name, names, n=3, cutoff=0.5)
    close = [one for one in close if _likeness(one, name) >= LIKE * _likeness(close[0], name)]
    if close:
        return f"Nearest: {', '.join(close)}."
    return f"Known: {', '.join(names[:12])}{' ...' if len(names) > 12 else ''}." if names else ""


def _likeness(one: str, name: str) -> float:
    return SequenceMatcher(None, one, name).ratio()


def shown(value: Any) -> str:
    """A value as the job file would write it, cut short.

    >>> shown("6"), shown(True), shown([1, "a"]), shown("x" * 99)
    ('"6"', 'true', '[1, "a"]', '"xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx...')
    >>> shown({"x": 1, "rows": [{"at": []}]}), shown({})
    ('{ x = 1, rows = [{ at = [] }] }', '{ }')
    """
    words = _toml(value)
    return words if len(words) <= LONGEST else words[: LONGEST - 3] + "..."


def _toml(value: Any) -> str:
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {_toml(one)}' for key, one in value.items())} }}" if value else "{ }"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_toml(one) for one in value)}]"
    return json.dumps(value, ensure_ascii=False) if isinstance(value, (str, bool)) else str(value)


def path(steps: Sequence[int | str]) -> str:
    """Keys and numbers from a table down to the fault.

    >>> path(("rows", 0, "count"))
    'rows[0].count'
    """
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in steps).removeprefix(".")


def form_faults(place: str, table: type[Form], error: ValidationError) -> Iterator[tuple[Fault, Mapping[str, Any]]]:
    """The faults that pydantic found in a table, in words, each with its record of it.

    A list that counts as too short because of faults in its entries is none of its own.
    """
    for detail in error.errors(include_url=False):
        listed, least = detail.get("input"), detail.get("ctx", {}).get("min_length", 0)
        if not (detail["type"] == "too_short" and isinstance(listed, (list, tuple)) and len(listed) >= least):
            yield form_fault(place, table, detail), detail


def form_fault(place: str, table: type[Form], detail: Mapping[str, Any]) -> Fault:
    """One fault that pydantic found in a table, in words.

    Args:
        place: where the table stands.
        table: the form that it should have.
        detail: pydantic's record of the fault.
    """
    steps, kind = tuple(detail["loc"]), str(detail["type"])
    key = str(steps[-1]) if steps else ""
    if kind in ("extra_forbidden", "missing") and isinstance(steps[-1], str):
        within = ": ".join(filter(None, [place, path(steps[:-1])]))
        return _unknown(within, key, _keys(table, steps)) if kind != "missing" else _missing(within, key)
    where = ": ".join(filter(None, [place, path(steps)]))
    if kind == "missing":
        return Fault(where, "too few entries", f"Expected at least {int(key) + 1}.")
    stated = detail.get("input")
    if kind == "value_error" and isinstance(stated, Mapping):  # which of its entries, the remedy says
        return Fault(where, "its entries do not go together, or lack one", _expected(kind, detail))
    return Fault(where, f"{shown(stated)} is not valid", _expected(kind, detail))


def _missing(place: str, key: str) -> Fault:
    return Fault(place, f'the key "{key}" is missing', "State it.")


def _unknown(place: str, key: str, keys: Iterable[str]) -> Fault:
    return Fault(place, f'unknown key "{key}"', nearest(key, keys))


def unknown_table(file: str, key: str) -> Fault:
    """The fault of a key at the top of the file that names no table."""
    return _unknown(file, key, [*form.SINGLE, *form.LISTS, *form.SHEETS, "layers"])


def _expected(kind: str, detail: Mapping[str, Any]) -> str:
    context = detail.get("ctx", {})
    if kind in LIMITS:
        return f"Expected {LIMITS[kind].format(**context)}."
    if kind == "literal_error":
        words = str(context["expected"]).replace("'' or ", "").replace("'', ", "").replace("'", '"')
        return f"Expected {words}."
    if kind == "value_error":
        words = str(context["error"])
        return f"Expected {words}" if words.endswith("?") else f"Expected {words}."
    return EXPECTED[kind].format(**context) if kind in EXPECTED else f"{detail['msg']}."


def _keys(table: type[Form], steps: Sequence[int | str]) -> list[str]:
    """The valid keys of the table inside `table` in which the last step stands."""
    for step in steps[:-1]:
        if isinstance(step, str):
            table = _inner(table.model_fields[step].annotation)
    return list(table.model_fields)


def _inner(annotation: Any) -> type[Form]:
    """The form inside an annotation such as tuple[RowForm, ...]."""
    inside = [one for one in annotation.__args__ if isinstance(one, type) and issubclass(one, Form)]
    return inside[0]
