"""The tables of a job file, each held against its form by itself, so that one bad table hides no other's faults."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fabplan.errors import FabplanError, Fault
from fabplan.job import form, part_form
from fabplan.job.fields import Form
from fabplan.job.spreadsheet import read_sheet, sheet_names
from fabplan.job.words import form_faults, nearest, shown, unknown_table


@dataclass(frozen=True, slots=True)
class Entry:
    """One table of the file.

    Attributes:
        place: where it stands.
        raw: what is written.
        form: its form; keys with faults are left out, and it is None where a key that is needed has a fault.
        whole: True where it has no fault of form.
    """

    place: str
    raw: Mapping[str, Any]
    form: Any
    whole: bool


@dataclass(frozen=True, slots=True)
class JobTables:
    """All tables of a job file by name, and the faults found so far; a table that stands once is a list of one.

    `unread` names the spreadsheets that could not be read: what they hold is not known, and not missed.
    """

    file: str
    entries: dict[str, list[Entry]] = field(default_factory=dict)
    roles: tuple[tuple[str, str], ...] = ()
    faults: list[Fault] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)

    def sound(self, table: str) -> list[Entry]:
        """Entries of a table of which enough is sound to have a form."""
        return [entry for entry in self.entries.get(table, []) if entry.form is not None]

    def marks(self, table: str, key: str = "mark") -> list[str]:
        """Marks that a table states, those of entries with faults included."""
        return [str(entry.raw[key]).strip() for entry in self.entries.get(table, []) if key in entry.raw]


def load(path: Path) -> JobTables:
    """The tables of a job file and of the spreadsheets that it names.

    Raises:
        FabplanError: the file is not there, is not text, or is not TOML.
    """
    raw = _toml(path)
    faults: list[Fault] = []
    tables = JobTables(path.name, roles=_roles(path.name, raw.pop("layers", {}), faults), faults=faults)
    sheets = _sheet_names(raw)
    _take_out_tools(raw)
    known = {*form.SINGLE, *form.LISTS}
    tables.faults.extend(unknown_table(path.name, key) for key in raw if key not in known)
    for name in form.SINGLE:
        tables.entries[name] = [_held(tables, f"{path.name}: [{name}]", raw.get(name, {}), form.SINGLE[name], {})]
    for name in form.LISTS:
        tables.entries[name] = [
            _held(tables, place, record, form.LISTS[name], own)
            for place, record, own in _records(tables, name, raw.get(name, []), sheets, path.parent)
        ]
    return tables


def _toml(path: Path) -> dict[str, Any]:
    try:
        if path.exists() and not path.is_dir() and not path.is_file():  # a pipe would be waited for
            raise FabplanError(f"{path.name} is a pipe or a device, no file", "Name a job file.")
        if path.is_dir():
            raise FabplanError(f"{path} is a folder", "Name the job file in it.")
        return tomllib.loads(path.read_text("utf-8-sig"))
    except FileNotFoundError:
        raise FabplanError(f"there is no job file {path}", "Make one with: fabplan new FOLDER.") from None
    except tomllib.TOMLDecodeError as error:
        raise FabplanError(f"{path.name} is not valid TOML: {error}", "Mend the line named.") from None
    except (OSError, UnicodeDecodeError, RecursionError) as error:
        raise FabplanError(f"{path.name} cannot be read ({error})", "A job file is text in UTF-8.") from None


def _roles(file: str, layers: Any, faults: list[Fault]) -> tuple[tuple[str, str], ...]:
    """Pairs (layer, role) of [layers]."""
    place = f"{file}: [layers]"
    if not isinstance(layers, dict):
        faults.append(Fault(place, f"{shown(layers)} is not valid", 'Expected pairs: "LAYER" = "ROLE".'))
        return ()
    for layer, role in layers.items():
        word = role.replace("_", " ").replace("-", " ").split(" ")[0].upper() if isinstance(role, str) else ""
        if word not in form.ROLES:
            faults.append(Fault(f"{place}: {layer}", f"{shown(role)} is no role", nearest(word, form.ROLES)))
    return tuple((layer, role) for layer, role in layers.items() if isinstance(role, str))


def _sheet_names(raw: dict[str, Any]) -> dict[str, str]:
    """Spreadsheets by the key that names them, at the top of the file or in [job]; the keys are taken out."""
    owners = [owner for owner in (raw, raw.get("job")) if isinstance(owner, dict)]
    return {key: owner.pop(key) for owner in owners for key in form.SHEETS if isinstance(owner.get(key), str)}


def _take_out_tools(raw: dict[str, Any]) -> None:
    """Tools of [shop], as a list or as tables, put among those that stand by themselves."""
    shop = raw.get("shop")
    for key in ("tools", "tool"):
        if isinstance(shop, dict) and isinstance(shop.get(key), list):
            own = shop.pop(key)
            raw["tool"] = [*(raw["tool"] if isinstance(raw.get("tool"), list) else []), *own]


Located = tuple[str, Any, dict[tuple[int | str, ...], str]]
"""A record with its place, and places of its own for entries of its lists that come from another sheet."""


def _records(tables: JobTables, name: str, raw: Any, sheets: Mapping[str, str], folder: Path) -> list[Located]:
    """The raw records of one table with their places; those of spreadsheets follow those of the file."""
    if not isinstance(raw, list):
        tables.faults.append(
            Fault(
                f"{tables.file}: [{name}]", "written as a table that stands once", f"Write [[{name}]], in two brackets."
            )
        )
        raw = [raw]
    records: list[Located] = [(f"{tables.file}: [[{name}]] {n}{_named(one)}", one, {}) for n, one in enumerate(raw, 1)]
    if name == "part":
        records += [(place + _named(one), one, {}) for place, one in _sheet(tables, sheets, "parts", folder)]
        for key in ("rows", "folds"):
            _put_in(tables, records, key, _sheet(tables, sheets, key, folder))
    return records


def _named(record: Any) -> str:
    """The name that a record bears, in quotation marks after a blank."""
    names = [record[key] for key in ("mark", "name", "part") if key in record] if isinstance(record, dict) else []
    return f' "{names[0]}"' if names and isinstance(names[0], str) else ""


def _sheet(tables: JobTables, sheets: Mapping[str, str], key: str, folder: Path) -> list[tuple[str, dict[str, Any]]]:
    """Records of the spreadsheet that a key names; rows and folds may stand in the workbook of the parts."""
    own = sheets.get(key)
    try:
        if own is None and key != "parts" and key in sheet_names(folder / sheets.get("parts", "")):
            own = sheets["parts"]
        return _known_columns(tables, own, key, read_sheet(folder / own, key)) if own is not None else []
    except (FabplanError, OSError, ValueError) as error:
        what, mend = (error.what, error.mend) if isinstance(error, FabplanError) else (str(error), "")
        tables.faults.append(Fault(f"{tables.file}: {key}", what, mend))
        tables.unread.add(key)
        return []


COLUMNS = {
    "parts": frozenset(part_form.PartForm.model_fields) - {"rows"},
    "rows": frozenset(part_form.RowForm.model_fields) | {"part"},
    "folds": frozenset(part_form.FoldForm.model_fields) | {"part"},
}


def _known_columns(
    tables: JobTables, sheet: str, key: str, records: list[tuple[str, dict[str, Any]]]
) -> list[tuple[str, dict[str, Any]]]:
    """The records without columns that nobody reads; each of these is one fault, not one a row."""
    strange = dict.fromkeys(name for _, record in records for name in record if name not in COLUMNS[key])
    for name in strange:
        tables.faults.append(Fault(f"{sheet}: {key}", f'unknown column "{name}"', nearest(name, COLUMNS[key])))
    return [(place, {name: record[name] for name in record if name not in strange}) for place, record in records]


def _put_in(tables: JobTables, parts: list[Located], key: str, records: list[tuple[str, dict[str, Any]]]) -> None:
    """Rows or folds of a sheet of their own put into the parts that they name."""
    by_mark = {str(part["mark"]): number for number, (_, part, _) in enumerate(parts) if _has_mark(part)}
    for place, record in records:
        mark = str(record.pop("part", ""))
        number = by_mark.get(mark)
        if number is None:
            tables.faults.append(Fault(f"{place}: part", f'no part bears the mark "{mark}"', nearest(mark, by_mark)))
            continue
        owner, own = parts[number][1], parts[number][2]
        listed = owner.setdefault(key, [])
        if isinstance(listed, list):
            own[key, len(listed)] = place
            listed.append(record)


def _has_mark(part: Any) -> bool:
    return isinstance(part, dict) and "mark" in part


def _held(
    tables: JobTables, place: str, raw: Any, table: type[Form], own: Mapping[tuple[int | str, ...], str]
) -> Entry:
    """One table held against its form; its faults are noted."""
    written = raw if isinstance(raw, dict) else {}
    try:
        return Entry(place, written, table.model_validate(raw), whole=True)
    except ValidationError as error:
        for fault, detail in form_faults(place, table, error):
            located = own.get(detail["loc"][:2])
            tables.faults.append(fault if located is None else _moved(fault, place, detail["loc"], located))
        faulty = {detail["loc"][0] for detail in error.errors() if detail["loc"]}
        return Entry(place, written, _salvaged(table, written, faulty), whole=False)


def _salvaged(table: type[Form], written: Mapping[str, Any], faulty: set[int | str]) -> Form | None:
    """The form of a table without its faulty keys, so that what the others name can still be looked up."""
    try:
        return table.model_validate({key: value for key, value in written.items() if key not in faulty})
    except ValidationError:
        return None


def _moved(fault: Fault, place: str, steps: tuple[int | str, ...], located: str) -> Fault:
    """A fault of a row or fold from a sheet of its own, told by its place on that sheet."""
    inner = fault.place.removeprefix(f"{place}: {steps[0]}[{steps[1]}]").removeprefix(".")
    return Fault(f"{located}: {inner}" if inner else located, fault.what, fault.mend)
