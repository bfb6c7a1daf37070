"""The job file read into the model: every fault at once, each with its place, what was expected, the nearest name."""

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fabplan.errors import FabplanError, Fault, JobError
from fabplan.job import form
from fabplan.job.spreadsheet import read_table
from fabplan.model import job as model
from fabplan.model.marks import instance_marks

TABLES = {"parts": "part", "rows": "rows", "folds": "folds"}


def read_job(path: Path, rule_sets: Sequence[str] = ()) -> model.Job:
    """Read a job file.

    Args:
        path: the job file, TOML.
        rule_sets: names of rule sets that exist; () does not check the name.

    Raises:
        JobError: the file has faults; all of them are in it.
        FabplanError: the file cannot be read at all.
    """
    raw, places = _raw(path)
    faults: list[Fault] = []
    try:
        whole = form.JobFile.model_validate(raw)
    except ValidationError as error:
        raise JobError(tuple(_fault(path.name, raw, places, detail) for detail in error.errors())) from None
    job = _job(path, whole, places, faults)
    faults += _references(job, whole, path, rule_sets)
    if faults:
        raise JobError(tuple(faults))
    return job


def _raw(path: Path) -> tuple[dict[str, Any], dict[int, str]]:
    """The raw tables, and for parts from a spreadsheet their places by number."""
    try:
        text = path.read_text("utf-8-sig")
    except FileNotFoundError:
        raise FabplanError(f"there is no job file {path}", "Make one with: fabplan new FOLDER") from None
    except (OSError, UnicodeDecodeError) as error:
        raise FabplanError(f"{path} cannot be read ({error})", "A job file is text in UTF-8.") from None
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FabplanError(f"{path.name} is not valid TOML: {error}", "Mend the line named.") from None
    return _with_tables(raw, path.parent)


def _with_tables(raw: dict[str, Any], folder: Path) -> tuple[dict[str, Any], dict[int, str]]:
    """Parts, rows and folds of spreadsheets put in among those of the job file."""
    named = {key: raw.pop(key) for key in TABLES if isinstance(raw.get(key), str)}
    job = raw.get("job")
    if isinstance(job, dict):
        named |= {key: job.pop(key) for key in TABLES if isinstance(job.get(key), str)}
    parts = list(raw.get("part", []))
    places: dict[int, str] = {}
    for place, record in read_table(folder / named["parts"], "parts") if "parts" in named else []:
        places[len(parts)] = place
        parts.append(record)
    for key in ("rows", "folds"):
        source = named.get(key) or _own_sheet(named.get("parts", ""), folder, key)
        for place, record in read_table(folder / source, key) if source else []:
            mark = str(record.pop("part", ""))
            owner = next((part for part in parts if isinstance(part, dict) and str(part.get("mark")) == mark), None)
            if owner is None:
                raise JobError((Fault(place, f'no part bears the mark "{mark}"', _nearest(mark, _marks(parts))),))
            owner[key] = [*owner.get(key, []), record]
    if parts:
        raw["part"] = parts
    return raw, places


def _own_sheet(parts: str, folder: Path, sheet: str) -> str:
    """The workbook of the parts, where it holds a sheet of that name too."""
    if not parts.lower().endswith(".xlsx") or not (folder / parts).is_file():
        return ""
    from openpyxl import load_workbook

    book = load_workbook(folder / parts, read_only=True)
    held = sheet in [name.lower() for name in book.sheetnames]
    book.close()
    return parts if held else ""


def _marks(parts: Iterable[Any]) -> list[str]:
    return [str(part.get("mark")) for part in parts if isinstance(part, dict)]


def _nearest(name: str, valid: Iterable[str]) -> str:
    """A sentence with the nearest valid names, else with all of them when they are few."""
    names = sorted(set(valid))
    close = get_close_matches(name, names, n=3, cutoff=0.5)
    if close:
        return f"Nearest: {', '.join(close)}."
    return f"Known: {', '.join(names[:12])}{' ...' if len(names) > 12 else ''}." if names else ""


def _fault(file: str, raw: Mapping[str, Any], places: Mapping[int, str], detail: Any) -> Fault:
    """One fault of the form, in words."""
    where = _where(file, raw, places, detail["loc"])
    key = str(detail["loc"][-1]) if detail["loc"] else ""
    if detail["type"] == "extra_forbidden":
        if key in form.LATER:
            return Fault(where, f'the key "{key}" ({form.LATER[key]}) is not known yet', "Leave it out.")
        return Fault(where, f'unknown key "{key}"', _nearest(key, _keys(detail["loc"])))
    if detail["type"] == "missing":
        return Fault(where, f'the key "{key}" is missing', "State it.")
    given = detail.get("input")
    told = f", got {given!r}" if not isinstance(given, (dict, list)) else ""
    return Fault(where, f"{key}: {str(detail['msg']).removeprefix('Value error, ')}{told}", "")


def _keys(loc: tuple[Any, ...]) -> list[str]:
    """The valid keys of the table that a location stands in."""
    table: Any = form.JobFile
    for step in loc[:-1]:
        if isinstance(step, str):
            table = _inner(table.model_fields[step].annotation)
    return sorted(table.model_fields) + (sorted(TABLES) if table is form.JobFile else [])


def _inner(annotation: Any) -> Any:
    """The form inside an annotation such as tuple[RowForm, ...]."""
    if isinstance(annotation, type) and issubclass(annotation, form.Form):
        return annotation
    found = (_inner(argument) for argument in getattr(annotation, "__args__", ()))
    return next((one for one in found if one is not None), None)


def _where(file: str, raw: Mapping[str, Any], places: Mapping[int, str], loc: tuple[Any, ...]) -> str:
    """The place of a location in words: job.toml: [[part]] 3 "A1": rows[0].count."""
    if not loc:
        return file
    head, rest = str(loc[0]), list(loc[1:])
    if rest and isinstance(rest[0], int):
        number = rest.pop(0)
        entry = raw[head][number] if isinstance(raw.get(head), list) else {}
        mark = entry.get("mark") or entry.get("name") or entry.get("part") if isinstance(entry, dict) else ""
        table = f"[[{head}]] {number + 1}" + (f' "{mark}"' if mark else "")
        if head == "part" and number in places:
            return ": ".join(filter(None, [places[number] + (f' "{mark}"' if mark else ""), _path(rest)]))
    else:
        table = f"[{head}]"
    return ": ".join(filter(None, [file, table, _path(rest)]))


def _path(steps: Sequence[Any]) -> str:
    words = ""
    for step in steps:
        words += f"[{step}]" if isinstance(step, int) else f"{'.' if words else ''}{step}"
    return words


def _job(path: Path, whole: form.JobFile, places: Mapping[int, str], faults: list[Fault]) -> model.Job:
    head = whole.job
    parts = tuple(
        _part(part, places.get(number, f'{path.name}: [[part]] {number + 1} "{part.mark}"'), faults)
        for number, part in enumerate(whole.part)
    )
    stated = {key: value for key, value in whole.shop.model_dump(exclude={"tools"}).items() if value is not None}
    return model.Job(
        path=path,
        drawings=path.parent / head.drawings,
        title=head.title,
        number=head.number,
        revision=head.revision,
        date=head.date.isoformat() if head.date else "",
        rules=head.rules,
        datum=head.datum or _first_plate(parts),
        exposed=head.exposed,
        rivets=tuple(model.RivetSpec(**rivet.model_dump()) for rivet in whole.rivet),
        parts=parts,
        seams=tuple(_seam(seam, f'{path.name}: [[seam]] {i} "{seam.mark}"') for i, seam in enumerate(whole.seam, 1)),
        places=tuple(model.PlaceSpec(**place.model_dump()) for place in whole.place),
        suppliers=tuple(_supplier(supplier) for supplier in whole.supplier),
        roles=tuple(whole.layers.items()),
        shop=model.Shop(**stated, tools=tuple(model.ToolSpec(**tool.model_dump()) for tool in whole.shop.tools)),
    )


def _first_plate(parts: Sequence[model.PartSpec]) -> str:
    plates = [part for part in parts if part.drawing]
    return instance_marks(plates[0])[0][0] if plates else ""


def _supplier(supplier: form.SupplierForm) -> model.Supplier:
    dated = supplier.limits_dated.isoformat() if supplier.limits_dated else ""
    return model.Supplier(**(supplier.model_dump() | {"limits_dated": dated}))


def _seam(seam: form.SeamForm, place: str) -> model.SeamSpec:
    plies = []
    for ply in seam.parts:
        instance, _, row = ply.partition("/")
        plies.append(model.PlySpec(instance.strip(), row.strip() or seam.mark))
    fields = seam.model_dump(exclude={"parts"})
    return model.SeamSpec(plies=tuple(plies), place=place, **fields)


def _part(part: form.PartForm, place: str, faults: list[Fault]) -> model.PartSpec:
    rows = tuple(
        model.RowSpec(
            row.row,
            row.leg,
            row.back_mark,
            _along(row, part, f"{place}: rows[{i}]", faults),
            row.diameter,
            row.purpose,
        )
        for i, row in enumerate(part.rows)
    )
    folds = tuple(model.FoldSpec(**fold.model_dump()) for fold in part.folds)
    return model.PartSpec(**part.model_dump(exclude={"rows", "folds"}), rows=rows, folds=folds, place=place)


def _along(row: form.RowForm, part: form.PartForm, place: str, faults: list[Fault]) -> tuple[float, ...]:
    """Places of a row along its bar, mm, from `at`, or from `first` and `count` with `last` or `pitch`."""
    ends = (row.last is not None) + (row.pitch is not None)
    if row.at is not None:
        places = row.at
        if row.first is not None or row.count is not None or ends:
            faults.append(Fault(place, "both `at` and `first`, `last`, `pitch` or `count`", "State one of the two."))
    elif row.first is None or row.count is None or (ends != 1 and row.count > 1):
        mend = "State `first`, `count` and one of `last` (better) and `pitch`, or `at = [...]`."
        faults.append(Fault(place, "the places of the holes are not settled", mend))
        return ()
    elif row.last is not None and row.count > 1:
        step = (row.last - row.first) / (row.count - 1)
        places = tuple(row.first + step * i for i in range(row.count))
    else:
        places = tuple(row.first + (row.pitch or 0.0) * i for i in range(row.count))
    if part.length is not None and places and not (min(places) > 0.0 and max(places) < part.length):
        what = f"holes run from {min(places):g} to {max(places):g} mm on a bar of {part.length:g} mm"
        faults.append(Fault(place, what, "Keep the row inside the bar."))
    return places


def _references(job: model.Job, whole: form.JobFile, path: Path, rule_sets: Sequence[str]) -> list[Fault]:
    """Names that point nowhere, marks that stand twice, parts that are neither plate nor bar."""
    faults: list[Fault] = []
    marks = {mark: part for part in job.parts for mark, _ in instance_marks(part)}
    head = f"{path.name}: [job]"
    if not job.parts:
        faults.append(Fault(path.name, "no [[part]] stands in the job", "Name the pieces of the kit."))
    if rule_sets and job.rules not in rule_sets:
        faults.append(Fault(head, f'unknown rule set "{job.rules}"', _nearest(job.rules, rule_sets)))
    if whole.job.datum and whole.job.datum not in marks:
        faults.append(Fault(head, f'the datum "{whole.job.datum}" is no piece', _nearest(whole.job.datum, marks)))
    faults += _twice(path.name, "part", [part.mark for part in job.parts])
    faults += _twice(path.name, "rivet", [rivet.mark for rivet in job.rivets])
    faults += _twice(path.name, "seam", [seam.mark for seam in job.seams])
    for part in job.parts:
        faults += _part_faults(part, job)
    for seam in job.seams:
        faults += _seam_faults(seam, job, marks)
    for place in whole.place:
        if place.part not in marks:
            faults.append(Fault(f"{path.name}: [[place]]", f'"{place.part}" is no piece', _nearest(place.part, marks)))
    return faults


def _twice(file: str, table: str, marks: Sequence[str]) -> list[Fault]:
    seen = [mark for i, mark in enumerate(marks) if mark in marks[:i]]
    return [Fault(f"{file}: [[{table}]]", f'the mark "{mark}" stands twice', "Give each its own.") for mark in seen]


def _part_faults(part: model.PartSpec, job: model.Job) -> list[Fault]:
    faults = []
    if bool(part.drawing) == bool(part.section):
        faults.append(
            Fault(part.place, "neither or both of `drawing` and `section`", "A plate has one, a bar the other.")
        )
    if part.section and part.length is None:
        faults.append(Fault(part.place, "a bar without `length`", "State it in mm."))
    if (part.section and part.folds) or (part.drawing and part.rows):
        faults.append(Fault(part.place, "`rows` belong to bars, `folds` to plates", "Take out the other."))
    if part.supplier and part.supplier not in {supplier.name for supplier in job.suppliers}:
        mend = _nearest(part.supplier, [supplier.name for supplier in job.suppliers])
        faults.append(Fault(part.place, f'unknown supplier "{part.supplier}"', mend or "Add a [[supplier]]."))
    if part.drawing and not (job.drawings / part.drawing).is_file():
        there = [path.name for path in job.drawings.glob("*")] if job.drawings.is_dir() else []
        mend = _nearest(part.drawing, there) or f"There is nothing in {job.drawings}."
        faults.append(Fault(part.place, f"there is no drawing {part.drawing}", mend))
    return faults


def _seam_faults(seam: model.SeamSpec, job: model.Job, marks: Mapping[str, model.PartSpec]) -> list[Fault]:
    faults = []
    if seam.rivet not in {rivet.mark for rivet in job.rivets}:
        mend = _nearest(seam.rivet, [rivet.mark for rivet in job.rivets]) or "Add a [[rivet]]."
        faults.append(Fault(seam.place, f'unknown rivet "{seam.rivet}"', mend))
    for ply in seam.plies:
        part = marks.get(ply.instance)
        if part is None:
            faults.append(Fault(seam.place, f'"{ply.instance}" is no piece of the job', _nearest(ply.instance, marks)))
        elif part.section and ply.row not in {row.row for row in part.rows}:
            mend = _nearest(ply.row, [row.row for row in part.rows])
            faults.append(Fault(seam.place, f'{ply.instance} has no row "{ply.row}"', mend))
    if len({ply.instance for ply in seam.plies}) < len(seam.plies):
        faults.append(Fault(seam.place, "a piece is listed twice", "Each ply is another piece."))
    return faults
