"""Parts, rows and folds from spreadsheets: the same job as from TOML."""

from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import Workbook

from fabplan.errors import JobError
from fabplan.job.read import read_job
from fabplan.model.job import Job, PartSpec
from tests.job.written import faults, read

TOML = """\
[[part]]
mark = "F1"
drawing = "floor.dxf"
thickness = 6.5
size = [2400, 1200]
folds = [{ line = "FOLD 1", angle = -90, inside_radius = 10 }]

[[part]]
mark = "A1"
section = "L50x50x6"
length = 2360
quantity = 2
loose = true
rows = [
  { row = "floor", leg = "a", back_mark = 28, first = 20, last = 2340, count = 59, diameter = 11 },
  { row = "side", leg = "b", back_mark = 28.5, at = [20, 60.5, 140], diameter = 11 },
]
"""
NAMED = 'parts = "parts{0}"\nrows = "rows{0}"\nfolds = "folds{0}"\n'
PARTS: list[list[object]] = [
    ["Mark", "drawing", "section", "thickness", "length", "quantity", "size", "loose"],
    ["F1", "floor.dxf", None, 6.5, None, None, "2400 x 1200", None],
    [None] * 8,
    ["A1", None, "L50x50x6", None, 2360, 2, None, "yes"],
]
ROWS: list[list[object]] = [
    ["part", "row", "leg", "back_mark", "first", "last", "count", "diameter", "at"],
    ["A1", "floor", "a", 28, 20, 2340, 59, 11, None],
    ["A1", "side", "b", 28.5, None, None, None, 11, "20; 60.5; 140"],
]
FOLDS: list[list[object]] = [["part", "line", "angle", "inside_radius"], ["F1", "FOLD 1", -90, 10]]
TABLES = {"parts": PARTS, "rows": ROWS, "folds": FOLDS}


def parts_of(job: Job) -> list[PartSpec]:
    return [replace(part, place="") for part in job.parts]


def csv(folder: Path, sign: str, point: str, start: str = "") -> None:
    for name, table in TABLES.items():
        lines = [sign.join("" if cell is None else f'"{_local(cell, point)}"' for cell in row) for row in table]
        (folder / f"{name}.csv").write_text(start + "\n".join(lines), "utf-8")


def _local(cell: object, point: str) -> str:
    return str(cell).replace(".", point) if isinstance(cell, float) else str(cell)


def workbook(folder: Path, name: str, **tables: list[list[object]]) -> None:
    book = Workbook()
    book.remove(book.worksheets[0])
    for title, table in tables.items():
        page = book.create_sheet(title)
        for row in table:
            page.append(row)
    book.save(folder / name)


@pytest.mark.parametrize(("sign", "point", "start"), [(",", ".", ""), (";", ",", "\ufeff")])
def test_csv_gives_the_same_parts_as_toml(folder: Path, sign: str, point: str, start: str) -> None:
    csv(folder, sign, point, start)
    assert parts_of(read(folder, NAMED.format(".csv"))) == parts_of(read(folder, TOML))


def test_a_workbook_gives_the_same_parts_as_toml(folder: Path) -> None:
    workbook(folder, "parts.xlsx", Parts=PARTS, Rows=ROWS, folds=FOLDS)
    # rows and folds stand in the workbook of the parts; the keys may stand in [job] too
    from_book = read(folder, '[job]\nparts = "parts.xlsx"\n')
    assert parts_of(from_book) == parts_of(read(folder, TOML))
    assert from_book.parts[0].place == 'parts.xlsx parts row 2 "F1"'
    workbook(folder, "rows.xlsx", rows=ROWS)
    workbook(folder, "bare.xlsx", anything=PARTS, folds=FOLDS)
    assert parts_of(read(folder, 'parts = "bare.xlsx"\nrows = "rows.xlsx"\n')) == parts_of(read(folder, TOML))


def test_marks_that_a_workbook_takes_for_numbers_stay_marks(folder: Path) -> None:
    workbook(folder, "parts.xlsx", parts=[["mark", "drawing"], [12, "floor.dxf"], [13.0, "side.dxf"]])
    assert [part.mark for part in read(folder, 'parts = "parts.xlsx"\n').parts] == ["12", "13"]


def test_faults_name_the_row_of_the_table(folder: Path) -> None:
    table: list[list[object]] = [*PARTS, ["F2", "floor.dxf", None, "six", None, None, None, "perhaps"]]
    rows: list[list[object]] = [
        *ROWS,
        ["A1", "top", "c", 28, 20, 2340, 5, 11, None],
        ["A9", "top", "a", 28, 20, 2340, 5, 11, None],
    ]
    workbook(folder, "parts.xlsx", parts=table, rows=rows)
    told = {fault.place: fault for fault in faults(folder, 'parts = "parts.xlsx"\n')}
    assert set(told) == {
        'parts.xlsx parts row 5 "F2": thickness',
        'parts.xlsx parts row 5 "F2": loose',
        "parts.xlsx rows row 4: leg",
        "parts.xlsx rows row 5: part",
    }
    assert "Nearest: A1." in told["parts.xlsx rows row 5: part"].mend


def test_an_unknown_column_is_one_fault(folder: Path) -> None:
    table: list[list[object]] = [["mark", "drawing", "thicknes"], ["F1", "floor.dxf", 6], ["F2", "side.dxf", 6]]
    workbook(folder, "parts.xlsx", parts=table)
    (told,) = faults(folder, 'parts = "parts.xlsx"\n')
    assert told.what == 'unknown column "thicknes"'
    assert told.mend == "Nearest: thickness."


@pytest.mark.parametrize(
    ("name", "content", "what"),
    [
        ("none.csv", None, "there is no table none.csv"),
        ("parts.ods", b"x", "neither .csv nor .xlsx"),
        ("parts.xlsx", b"PK\x03\x04 no workbook", "cannot be read as a workbook"),
        ("parts.csv", "mark;drawing\nF\xfc;floor.dxf".encode("cp1252"), "not UTF-8"),
    ],
)
def test_tables_that_cannot_be_read(folder: Path, name: str, content: bytes | None, what: str) -> None:
    if content is not None:
        (folder / name).write_bytes(content)
    told = faults(folder, f'parts = "{name}"\n')
    assert any(fault.place == "job.toml: parts" and what in fault.what for fault in told)


def test_an_empty_table_leaves_a_job_without_parts(folder: Path) -> None:
    (folder / "parts.csv").write_text("", "utf-8")
    assert [fault.what for fault in faults(folder, 'parts = "parts.csv"\n')] == ["no [[part]] stands in the job"]


def test_a_missing_table_of_parts_is_one_fault_not_one_a_seam(tmp_path: Path) -> None:
    seams = "".join(f'[[seam]]\nmark = "S{k}"\nparts = ["P{k}/a", "P{k + 1}/a"]\nrivet = "R10"\n' for k in range(30))
    rivet = '[[rivet]]\nmark = "R10"\ndiameter = 10\nhole = 11\n'
    text = f'parts = "parts.xlsx"\n[job]\ntitle = "x"\ndatum = "P0"\n{rivet}{seams}'
    (tmp_path / "job.toml").write_text(text, "utf-8")
    with pytest.raises(JobError) as raised:
        read_job(tmp_path / "job.toml")
    assert [fault.what for fault in raised.value.faults] == ["there is no table parts.xlsx"]
