"""Tables of parts, rows and folds from CSV or XLSX, as the same records that TOML gives."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fabplan.errors import FabplanError

NUMBERS = frozenset(
    [
        "thickness",
        "length",
        "quantity",
        "mass",
        "back_mark",
        "first",
        "last",
        "pitch",
        "count",
        "diameter",
        "angle",
        "inside_radius",
    ]
)
LISTS = frozenset({"size", "at"})
TRUTHS = frozenset({"loose", "closing"})
YES, NO = frozenset({"yes", "true", "1", "x"}), frozenset({"no", "false", "0"})


def read_table(path: Path, sheet: str) -> list[tuple[str, dict[str, Any]]]:
    """Records of a spreadsheet with their places ("parts.csv row 3"); empty cells are left out.

    Args:
        path: a CSV (comma or semicolon) or XLSX file; the first row names the columns.
        sheet: the sheet of an XLSX file; its first one where none has that name.

    Raises:
        FabplanError: the file is not there or is neither CSV nor XLSX.
    """
    if not path.is_file():
        raise FabplanError(f"there is no table {path.name}", f"Look in {path.parent}, or correct its name in the job.")
    if path.suffix.lower() == ".csv":
        rows = _csv_rows(path)
    elif path.suffix.lower() == ".xlsx":
        rows = _xlsx_rows(path, sheet)
    else:
        raise FabplanError(f"{path.name} is neither .csv nor .xlsx", "Save the table as one of these.")
    head = [str(name or "").strip().lower() for name in next(rows, [])]
    records = []
    for number, row in enumerate(rows, start=2):
        cells = {name: _cell(name, cell) for name, cell in zip(head, row, strict=False) if name and not _blank(cell)}
        if cells:
            records.append((f"{path.name} row {number}", cells))
    return records


def _blank(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _csv_rows(path: Path) -> Iterator[list[Any]]:
    text = path.read_text("utf-8-sig", errors="replace")
    first = text.split("\n", 1)[0]
    yield from csv.reader(text.splitlines(), delimiter=";" if first.count(";") > first.count(",") else ",")


def _xlsx_rows(path: Path, sheet: str) -> Iterator[list[Any]]:
    from zipfile import BadZipFile

    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        book = load_workbook(path, read_only=True, data_only=True)
    except (BadZipFile, InvalidFileException, KeyError, OSError):
        raise FabplanError(f"{path.name} cannot be read as a workbook", "Save it again as .xlsx.") from None
    names = {name.lower(): name for name in book.sheetnames}
    page = book[names.get(sheet, book.sheetnames[0])]
    for row in page.iter_rows(values_only=True):
        yield list(row)
    book.close()


def _cell(name: str, cell: Any) -> Any:
    """A cell as TOML would have given it; what cannot be turned stays a word and is found by the form."""
    if name in LISTS and isinstance(cell, str):
        return [_number(word) for word in cell.replace("x", " ").replace(";", " ").split()]
    if name in NUMBERS:
        return _number(cell)
    if name in TRUTHS:
        word = str(cell).strip().lower()
        return True if word in YES else False if word in NO else cell
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))  # a mark such as 12 typed into a workbook
    return str(cell).strip()


def _number(cell: Any) -> Any:
    if isinstance(cell, str):
        word = cell.strip().replace(",", ".")
        try:
            return int(word) if word.lstrip("+-").isdigit() else float(word)
        except ValueError:
            return cell
    return int(cell) if isinstance(cell, float) and cell.is_integer() else cell
