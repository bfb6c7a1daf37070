"""The lists as one workbook and as CSV files; what a drawing says never becomes a formula."""

import csv
import datetime
from collections.abc import Sequence
from pathlib import Path

import xlsxwriter

from fabplan.sheets.lists import Cell, Listing

STAMP = datetime.datetime(2000, 1, 1)  # fixed, so that the same plan gives the same bytes


def write_workbook(listings: Sequence[Listing], path: Path, title: str, struck: str = "") -> None:
    """Write one sheet a list; text cells stay text.

    Args:
        listings: the lists.
        path: the file.
        title: of the workbook.
        struck: words for a last column where the lists must not go out, "" for none.
    """
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": title, "created": STAMP})
    bold = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    plain = book.add_format({"text_wrap": True, "valign": "top"})
    for listing in listings:
        sheet = book.add_worksheet(listing.title[:31])
        sheet.set_landscape()
        sheet.set_paper(9)  # A4
        sheet.fit_to_pages(1, 0)
        sheet.repeat_rows(0)
        sheet.set_header(_headed(f"&L{_plain(listing.origin)}&R{_plain(listing.title)}, sheet &P of &N"))
        sheet.freeze_panes(1, 0)
        heads, rows = _marked(listing, struck)
        for column, head in enumerate(heads):
            sheet.set_column(column, column, 8.0 * (*listing.shares, 2.0)[column])
            sheet.write_string(0, column, head, bold)
        for number, row in enumerate(rows, start=1):
            for column, cell in enumerate(row):
                if isinstance(cell, str):
                    sheet.write_string(number, column, cell, plain)
                else:
                    sheet.write_number(number, column, cell, plain)
        for number, line in enumerate(listing.after, start=len(listing.rows) + 2):
            sheet.write_string(number, 0, line)
    book.close()


def _marked(listing: Listing, struck: str) -> tuple[tuple[str, ...], list[tuple[Cell, ...]]]:
    """Heads and rows, with a last column that says why the list must not go out."""
    if not struck:
        return listing.heads, list(listing.rows)
    return (*listing.heads, "issue"), [(*row, struck) for row in listing.rows]


def write_csv(listing: Listing, path: Path, struck: str = "") -> None:
    """Write one list as CSV (UTF-8 with mark, comma); a text that looks like a formula gets a leading apostrophe.

    Args:
        listing: the list.
        path: the file.
        struck: words for a last column where the list must not go out, "" for none.
    """
    heads, rows = _marked(listing, struck)
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(heads)
        writer.writerows([_guarded(cell) for cell in row] for row in rows)


HEADER = 255  # signs that a workbook takes in the head of a page


def _headed(words: str) -> str:
    return words if len(words) <= HEADER else ""


def _plain(words: str) -> str:
    """Words in which no sign is a code of the head of a page."""
    return words.replace("&", "&&")


def _guarded(cell: Cell) -> Cell:
    if isinstance(cell, str):
        cell = cell.replace("\n", " ")
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t", "\r")) else cell
