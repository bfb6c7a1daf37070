"""Tables of parts, rows and folds from CSV or XLSX, as the same records that TOML gives."""

import csv
import io
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fabplan.errors import FabplanError

_LENGTHS = frozenset(
    {"thickness", "length", "back_mark", "first", "last", "pitch", "diameter", "inside_radius", "x", "y"}
)
NUMBERS = _LENGTHS | {"least_diameter", "off", "accuracy", "diameter_accuracy", "quantity", "count", "mass", "angle"}
LISTS = frozenset({"size", "at"})
TRUTHS = frozenset({"loose", "closing"})
NESTED = ("{", "[")
YES, NO = frozenset({"yes", "true", "1", "x"}), frozenset({"no", "false", "0"})

Record = tuple[str, dict[str, Any]]


def read_sheet(path: Path, sheet: str) -> list[Record]:
    """Records of a spreadsheet with their places ("parts.csv row 3"); empty cells and rows are left out.

    Args:
        path: a CSV file (UTF-8, comma or semicolon) or an XLSX workbook; the first row names the columns.
        sheet: the sheet of a workbook; its first one where none has that name.

    Raises:
        FabplanError: the file is not there, cannot be read, or has cells beyond its heading.
    """
    if not path.is_file():
        raise FabplanError(f"there is no table {path.name}", f"Look in {path.parent}, or correct its name in the job.")
    if path.suffix.lower() == ".csv":
        rows, name = _csv_rows(path), path.name
    elif path.suffix.lower() == ".xlsx":
        rows, name = _workbook_rows(path, sheet), f"{path.name} {sheet}"
    else:
        raise FabplanError(f"{path.name} is neither .csv nor .xlsx", "Save the table as one of these.")
    head = [str(cell if cell is not None else "").strip().lower() for cell in next(rows, [])]
    records = []
    for number, row in enumerate(rows, start=2):
        _beyond(row, head, f"{name} row {number}")
        named = zip(head, row, strict=False)
        cells = {key: _cell(key, cell) for key, cell in named if key and not _blank(cell)}
        if cells:
            records.append((f"{name} row {number}", cells))
    return records


def _beyond(row: list[Any], head: list[str], place: str) -> None:
    """Refuse a row with cells that no heading names."""
    filled = max((k for k, cell in enumerate(row, start=1) if not _blank(cell)), default=0)
    named = max((k for k, key in enumerate(head, start=1) if key), default=0)
    if filled > named:
        raise FabplanError(
            f"{place} has {filled} cells, its heading names {named}",
            "Name every column; where commas are decimal, save the table with semicolons between its cells.",
        )


def sheet_names(path: Path) -> tuple[str, ...]:
    """Names of the sheets of a workbook that a job may name, in small letters; none for a CSV file."""
    if path.suffix.lower() != ".xlsx" or not path.is_file():
        return ()
    return tuple(name.lower() for name, _ in _workbook(path))


def _blank(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _csv_rows(path: Path) -> Iterator[list[Any]]:
    try:
        text = path.read_text("utf-8-sig")
    except UnicodeDecodeError:
        raise FabplanError(f"{path.name} is not UTF-8", "Save it as CSV UTF-8.") from None
    first = text.split("\n", 1)[0]
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=";" if ";" in first else ","))
    except csv.Error as error:
        raise FabplanError(f"{path.name} cannot be read ({error})", "Save it again as CSV.") from None
    return iter(rows)


def _workbook_rows(path: Path, sheet: str) -> Iterator[list[Any]]:
    sheets = _workbook(path)
    named = [rows for name, rows in sheets if name.lower() == sheet]
    return iter(named[0] if named else sheets[0][1])


def _workbook(path: Path) -> list[tuple[str, list[list[Any]]]]:
    """Sheets of a workbook in its own order, each with the values of its rows."""
    from xml.etree.ElementTree import ParseError
    from zipfile import BadZipFile

    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        book = load_workbook(path, read_only=True, data_only=True)
        sheets = [(page.title, [list(row) for row in page.iter_rows(values_only=True)]) for page in book.worksheets]
        book.close()
    except (BadZipFile, InvalidFileException, ParseError, KeyError, ValueError, OSError):
        raise FabplanError(f"{path.name} cannot be read as a workbook", "Save it again as .xlsx.") from None
    if not sheets:
        raise FabplanError(f"{path.name} holds no sheet of cells", "Put the table on its first sheet.")
    return sheets


def _cell(key: str, cell: Any) -> Any:
    """A cell as TOML would have given it; what cannot be turned stays a word and is found by the form."""
    if isinstance(cell, str) and cell.lstrip()[:1] in NESTED:
        return _nested(cell)
    if key in LISTS and isinstance(cell, str):
        return [_number(word) for word in cell.replace("x", " ").replace(";", " ").split()]
    if key in LISTS:
        return [_number(cell)]
    if key in NUMBERS:
        return _number(cell)
    if key in TRUTHS:
        word = str(cell).strip().lower()
        return True if word in YES else False if word in NO else cell
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))  # a mark such as 12 typed into a workbook
    return str(cell).strip()


def _nested(cell: str) -> Any:
    """A cell in the words of TOML, as folds and rings are written; what is none stays as it is."""
    try:
        return tomllib.loads(f"cell = {cell.strip()}")["cell"]
    except tomllib.TOMLDecodeError:
        return cell


def _number(cell: Any) -> Any:
    """A number, with a decimal point or comma; whole ones as whole numbers."""
    try:
        value = float(cell.strip().rstrip(",").replace(",", ".")) if isinstance(cell, str) else cell
    except ValueError:
        return cell
    return int(value) if isinstance(value, float) and value.is_integer() else value
