"""The job file read into the model: every fault at once, each with its place, what was expected, the nearest name."""

from collections.abc import Sequence
from pathlib import Path

from fabplan.errors import Fault, JobError
from fabplan.job import form, joint_form, part_form, setout_form, works_form
from fabplan.job.measured import dry_fit_of, measured_of
from fabplan.job.names import name_faults
from fabplan.job.places import rows_of
from fabplan.job.tables import Entry, JobTables, load
from fabplan.model import bends, joints
from fabplan.model import job as model
from fabplan.model.fitting import LocationSpec, OptionSpec
from fabplan.model.marks import instance_marks
from fabplan.model.provenance import Provenance
from fabplan.model.setout import MirrorSpec, SetoutSpec
from fabplan.model.tool import Tool


def read_job(path: Path | str, rule_sets: Sequence[str] = ()) -> model.Job:
    """Read a job file and the spreadsheets that it names.

    Args:
        path: the job file, TOML in UTF-8.
        rule_sets: names of rule sets that exist; () does not check the name.

    Raises:
        JobError: the job has faults; all of them are in it, in the order of the file.
        FabplanError: the file is not there, is not text, or is not TOML.
    """
    path = Path(path)
    tables = load(path)
    job = _job(path, tables)
    tables.faults.extend(name_faults(tables, job, rule_sets))
    if tables.faults:
        raise JobError(tuple(_in_order(tables)))
    return job


def read_suppliers(path: Path) -> tuple[model.Supplier, ...]:
    """The suppliers of a job file that may not be finished otherwise.

    Raises:
        FabplanError: the file is not there, is not text, or is not TOML.
    """
    return tuple(_supplier(entry.form) for entry in load(path).sound("supplier"))


def _in_order(tables: JobTables) -> list[Fault]:
    """Faults in the order of the tables that they stand in; those of the file as a whole first."""
    places = [entry.place for entries in tables.entries.values() for entry in entries]

    def rank(fault: Fault) -> int:
        return next((n for n, place in enumerate(places) if f"{fault.place}:".startswith(f"{place}:")), -1)

    return sorted(tables.faults, key=rank)


def _job(path: Path, tables: JobTables) -> model.Job:
    """The job of all tables that have no faults of form."""
    head = tables.entries["job"][0].form or form.JobForm()
    parts = tuple(_part(entry, path.parent, tables.faults) for entry in tables.sound("part"))
    return model.Job(
        path=path,
        drawings=path.parent / head.drawings,
        title=head.title,
        number=head.number,
        revision=head.revision,
        date=head.date.isoformat() if head.date else "",
        rules=head.rules,
        datum=head.datum or _first_piece(parts),
        exposed=head.exposed,
        rivets=(
            *(joints.RivetSpec(**entry.form.model_dump()) for entry in tables.sound("rivet")),
            *(_fastener(entry.form) for entry in tables.sound("fastener")),
        ),
        parts=parts,
        seams=tuple(_seam(entry) for entry in tables.sound("seam")),
        welds=tuple(_weld(entry) for entry in tables.sound("weld")),
        order=tuple(
            joints.OrderSpec(entry.form.pieces, entry.form.seams, entry.place) for entry in tables.sound("order")
        ),
        locations=tuple(_location(entry) for entry in tables.sound("location")),
        dry_fits=tuple(
            dry_fit_of(entry.form, entry.place, path.parent, tables.faults) for entry in tables.sound("dry_fit")
        ),
        levels=tuple(_level(entry) for entry in tables.sound("level")),
        places=tuple(joints.PlaceSpec(**entry.form.model_dump()) for entry in tables.sound("place")),
        setouts=tuple(_setout(entry) for entry in tables.sound("setout")),
        suppliers=tuple(_supplier(entry.form) for entry in tables.sound("supplier")),
        roles=tables.roles,
        accepted=tuple(_accepted(entry) for entry in tables.sound("accept")),
        holds=tuple(model.HoldSpec(**entry.form.model_dump()) for entry in tables.sound("hold")),
        shop=_shop(tables),
    )


def _first_piece(parts: Sequence[model.PartSpec]) -> str:
    """The datum where none is stated: the first plate that stands once, else the first piece."""
    drawn = [part for part in parts if part.drawing and not part.formed]
    single = [part for part in drawn if part.quantity == 1 and not part.hand]
    first = [*single, *drawn, *(part for part in parts if not part.formed), *parts][:1]
    return instance_marks(first[0])[0][0] if first else ""


BESIDE = {"rows", "folds", "rolls", "roll", "ends", "ring", "joggles", "tapers", "cone", "measured", "provenance"}
"""Keys of a part that are not taken over as they are."""


def _part(entry: Entry, folder: Path, faults: list[Fault]) -> model.PartSpec:
    part: part_form.PartForm = entry.form
    return model.PartSpec(
        **part.model_dump(exclude=BESIDE),
        rows=rows_of(part, entry.place, faults),
        folds=tuple(bends.FoldSpec(**fold.model_dump()) for fold in part.folds),
        rolls=_rolls(part),
        joggles=tuple(bends.JoggleSpec(**joggle.model_dump()) for joggle in part.joggles),
        tapers=tuple(bends.TaperSpec((one.start, one.end), one.edge, one.face) for one in part.tapers),
        ends=tuple(bends.BarEnd(**end.model_dump()) for end in part.ends),
        cone=bends.ConeSpec(**part.cone.model_dump()) if part.cone else None,
        ring=bends.RingSpec(**part.ring.model_dump()) if part.ring else None,
        measured=measured_of(part.measured, entry.place, folder, faults),
        provenance=Provenance(**part.provenance.model_dump()) if part.provenance else None,
        place=entry.place,
    )


def _rolls(part: part_form.PartForm) -> tuple[bends.RollSpec, ...]:
    zones = tuple(bends.RollSpec(**roll.model_dump()) for roll in part.rolls)
    if part.roll is None:
        return zones
    return (*zones, bends.RollSpec("", "", part.roll.inside_radius, part.roll.axis))


def _location(entry: Entry) -> LocationSpec:
    stated: joint_form.LocationForm = entry.form
    instance, _, row = stated.holes.partition("/")
    options = tuple(OptionSpec(option.mark, option.parts) for option in stated.options)
    grip, plug = stated.greatest_grip, stated.plug
    return LocationSpec(stated.mark, instance, row, grip, plug, options, stated.chosen, stated.face, entry.place)


def _fastener(stated: joint_form.FastenerForm) -> joints.RivetSpec:
    """A fastener in place of a rivet: closed cold, its far end a nut or nothing."""
    bolt = stated.kind in ("bolt", "fitted bolt")
    return joints.RivetSpec(
        stated.mark,
        stated.diameter,
        stated.diameter if stated.hole is None else stated.hole,
        stated.head or ("hexagon" if bolt else "round"),
        "nut" if bolt else "none",
        "cold",
        kind=stated.kind,
        tapped=stated.tapped,
        grade=stated.grade,
    )


def _seam(entry: Entry) -> joints.SeamSpec:
    """A seam; a ply without a row has the row that bears the seam's name."""
    stated: joint_form.SeamForm = entry.form
    plies = tuple(
        joints.PlySpec(*_row_name(text, stated.mark), state, joint_form.numbers_of(own))
        for text, state, own in zip(
            stated.parts, stated.states(), stated.holes or ("all",) * len(stated.parts), strict=True
        )
    )
    return joints.SeamSpec(
        stated.mark,
        plies,
        stated.rivet or stated.fastener,
        stated.tight,
        stated.load,
        stated.head,
        stated.faying,
        tuple(joints.Instead(one.holes, one.fastener) for one in stated.instead),
        entry.place,
    )


def _row_name(text: str, own: str) -> tuple[str, str]:
    """Instance and row of "INSTANCE/ROW"; a row that is not named bears the name `own`."""
    piece, _, row = text.partition("/")
    return piece.strip(), row.strip() or own


def _weld(entry: Entry) -> joints.WeldSpec:
    stated: joint_form.WeldForm = entry.form
    pieces = tuple(name.strip() for name in stated.parts)
    return joints.WeldSpec(stated.mark, pieces, stated.kind, stated.size, stated.length, stated.when, entry.place)


def _level(entry: Entry) -> joints.LevelSpec:
    stated: joint_form.LevelForm = entry.form
    rows = tuple(joints.PlySpec(*_row_name(text, stated.mark)) for text in stated.rows)
    return joints.LevelSpec(stated.mark, rows, stated.height, stated.within, entry.place)


def _setout(entry: Entry) -> SetoutSpec:
    stated: setout_form.SetoutForm = entry.form
    on, _, leg = (word.strip() for word in stated.on.partition("/"))
    circle, mirror = stated.circle, stated.mirror
    return SetoutSpec(
        stated.seam,
        on,
        leg,
        stated.path(),
        (*circle.centre, circle.radius) if circle else None,
        stated.rows,
        stated.zigzag,
        stated.back_pitch,
        stated.pitch,
        stated.end_distance,
        stated.back_mark,
        stated.hole,
        MirrorSpec(mirror.seam, mirror.axis, mirror.at) if mirror else None,
        entry.place,
    )


def _supplier(supplier: works_form.SupplierForm) -> model.Supplier:
    dated = supplier.limits_dated.isoformat() if supplier.limits_dated else ""
    rows = tuple(bends.BendRow(row.thickness, row.inside_radius, row.angle, row.zone) for row in supplier.bends)
    stated = supplier.model_dump() | {"limits_dated": dated, "layers": tuple(supplier.layers.items()), "bends": rows}
    return model.Supplier(**stated)


def _accepted(entry: Entry) -> model.AcceptSpec:
    stated: form.AcceptForm = entry.form
    return model.AcceptSpec(**(stated.model_dump() | {"date": stated.date.isoformat(), "place": entry.place}))


def _tool(stated: works_form.ToolForm) -> Tool:
    """A tool of the shop: its nose as wide as stated, whatever the head."""
    sizes = stated.model_dump()
    return Tool(nose_over_head=sizes.pop("nose_diameter"), source="stated by the shop", assumed=False, **sizes)


def _shop(tables: JobTables) -> model.Shop:
    shop = tables.entries["shop"][0].form or works_form.ShopForm()
    tools = tuple(_tool(entry.form) for entry in tables.sound("tool"))
    return model.Shop(**shop.model_dump(exclude_none=True), tools=tools)
