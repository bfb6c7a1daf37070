"""Plans and checks as plain records, for JSON. Light: no drawing library is imported here."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from fabplan.geom.pose import matrix
from fabplan.model.checked import SCHEMA, Checked
from fabplan.model.finding import Finding, Level

if TYPE_CHECKING:
    from fabplan.model.body import Body, Stacks
    from fabplan.model.dry_fit import Closing
    from fabplan.model.loop import Loop
    from fabplan.model.plan import Account, Plan
    from fabplan.model.provenance import Provenance
    from fabplan.model.sequence import Lie, Step
    from fabplan.model.supply import Supply

PLACES = 6  # decimals of a millimetre: far below any tolerance, and the same on every machine


def finding_record(finding: Finding) -> dict[str, Any]:
    """One finding."""
    where = finding.where
    return {
        "check": finding.check,
        "level": str(finding.level),
        "what": finding.what,
        "where": {
            "drawing": where.drawing,
            "part": where.part,
            "seam": where.seam,
            "handles": list(where.handles),
            "holes": list(where.holes),
            "xy": _numbers(where.xy),
            "point": _numbers(where.point),
        },
        "measured": _number(finding.measured),
        "required": _number(finding.required),
        "unit": finding.unit,
        "source": finding.source,
        "mend": finding.mend,
        "accepted": finding.accepted,
    }


def _number(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else round(float(value), PLACES) + 0.0


def _numbers(values: tuple[float, ...] | None) -> list[float | None] | None:
    return None if values is None else [_number(value) for value in values]


def checked_record(checked: Checked) -> dict[str, Any]:
    """One drawing after its checks."""
    drawing = checked.drawing
    fates = [entry.fate for entry in drawing.account]
    return {
        "drawing": drawing.name,
        "fingerprint": drawing.fingerprint,
        "units": drawing.units,
        "units_reason": drawing.units_reason,
        "holes": len(drawing.holes),
        "entities": {
            "scanned": drawing.scanned,
            **{fate.replace(" ", "_"): fates.count(fate) for fate in ("used", "set aside", "reported")},
        },
        "findings": [finding_record(finding) for finding in checked.findings],
        "not_checked": list(checked.not_checked),
        "used": list(checked.used),
    }


def check_record(checked: tuple[Checked, ...]) -> dict[str, Any]:
    """The outcome of `fabplan check`."""
    findings = [finding for one in checked for finding in one.findings]
    return {"schema": SCHEMA, "drawings": [checked_record(one) for one in checked], "counts": counts(findings)}


def counts(findings: Sequence[Finding]) -> dict[str, int]:
    """How many stops, queries and notes that nobody answers for, and how many findings are accepted."""
    open_ones = [finding for finding in findings if not finding.accepted]
    told = {str(level): sum(finding.level == level for finding in open_ones) for level in Level}
    return told | {"accepted": len(findings) - len(open_ones)}


def plan_record(plan: "Plan") -> dict[str, Any]:
    """The whole plan: the content of plan.json."""
    job = plan.job
    return {
        "schema": SCHEMA,
        "job": {
            "title": job.title,
            "number": job.number,
            "revision": job.revision,
            "date": job.date,
            "rules": job.rules,
            "datum": job.datum,
            "fingerprint": plan.fingerprint,
        },
        "drawings": [_drawing_record(one) for one in plan.checked],
        "parts": _part_records(plan.body) if plan.body else [],
        "rivets": _rivet_records(plan, plan.stacks) if plan.stacks else [],
        "loops": [_loop_record(loop) for loop in plan.loops],
        "measured": _measured_records(plan),
        "dry_fit": [_plain(asdict(one)) for one in plan.dry_fit],
        "closings": [_closing_record(one) for one in plan.closings],
        "findings": [finding_record(finding) for finding in plan.findings],
        "counts": counts(plan.findings),
        "steps": [_step_record(plan, step) for step in plan.sequence.steps] if plan.sequence else [],
        "orders": [_plain(asdict(one)) for one in plan.sequence.orders] if plan.sequence else [],
        "supply": _supply_record(plan.supply),
        "accounts": [_account_record(account) for account in plan.accounts],
        "not_checked": list(plan.not_checked),
        "used": list(plan.used),
    }


def _drawing_record(checked: Checked) -> dict[str, Any]:
    return {
        "drawing": checked.drawing.name,
        "part": checked.part.mark if checked.part else "",
        "fingerprint": checked.drawing.fingerprint,
        "units": checked.drawing.units,
    }


def _part_records(body: "Body") -> list[dict[str, Any]]:
    return [
        {
            "mark": instance.mark,
            "part": body.parts[instance.part].mark,
            "pose": None if pose is None else [_number(value) for value in matrix(pose).ravel().tolist()],
            "mass": _number(body.parts[instance.part].mass),
            "provenance": _origin(body.parts[instance.part].spec.provenance),
            "marked": marked,
            "reason": reason,
        }
        for instance, pose, marked, reason in zip(body.instances, body.poses, body.marked, body.reasons, strict=True)
    ]


def _origin(provenance: "Provenance | None") -> dict[str, str] | None:
    return None if provenance is None else asdict(provenance)


def _measured_records(plan: "Plan") -> list[dict[str, Any]]:
    stated = {part.mark: part.measured for part in plan.job.parts}
    records = []
    for one in plan.measured:
        measured = stated[one.mark]
        assert measured is not None
        within = dict(zip((hole.number for hole in measured.holes), measured.within, strict=True))
        holes = [
            {
                "number": number,
                "drawn": [_number(v) for v in drawn],
                "measured": [_number(v) for v in laid],
                "accuracy": _number(within[number]),
                "left_out": number in one.left_out,
            }
            for number, drawn, laid in zip(one.number, one.drawn.tolist(), one.laid.tolist(), strict=True)
        ]
        how = {"accuracy": _number(measured.accuracy), "source": measured.source, "doubt": measured.doubt}
        records.append({"part": one.mark, **how, "taken": one.taken, "holes": holes})
    return records


def _closing_record(closing: "Closing") -> dict[str, Any]:
    drawn, must = ([_number(value) for value in size] for size in (closing.drawn, closing.must))
    sides = [_plain(asdict(one)) for one in closing.sides]
    return {"part": closing.instance, "drawn": drawn, "must": must, "sides": sides, "note": closing.note}


def _rivet_records(plan: "Plan", stacks: "Stacks") -> list[dict[str, Any]]:
    assert plan.body is not None
    marks = [instance.mark for instance in plan.body.instances]
    lines = plan.supply.rivet_line or (-1,) * len(stacks)
    records = []
    for i in range(len(stacks)):
        plies = stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]]
        rivet = plan.job.rivets[int(stacks.rivet[i])] if stacks.rivet[i] >= 0 else None
        records.append(
            {
                "number": stacks.number[i],
                "seam": plan.job.seams[int(stacks.seam[i])].mark if stacks.seam[i] >= 0 else "",
                "point": [_number(value) for value in stacks.point[i].tolist()],
                "axis": [_number(value) for value in stacks.axis[i].tolist()],
                "plies": [marks[k] for k in plies.tolist()],
                "out": [
                    [_number(value) for value in row]
                    for row in plan.out[int(stacks.first[i]) : int(stacks.first[i + 1])].tolist()
                ],
                "grip": _number(float(stacks.grip[i])),
                "diameter": _number(float(stacks.diameter[i])),
                "length": _number(plan.supply.rivets[lines[i]].length) if lines[i] >= 0 else None,
                "head": rivet.head if rivet else "",
                "point_form": rivet.point if rivet else "",
                "kind": rivet.kind if rivet else "",
                "fastener": rivet.mark if rivet else "",
            }
        )
    return records


def _loop_record(loop: "Loop") -> dict[str, Any]:
    return {
        "pieces": list(loop.pieces),
        "seams": list(loop.seams),
        "apart": _number(loop.apart),
        "turn": _number(loop.turn),
    }


def _step_record(plan: "Plan", step: "Step") -> dict[str, Any]:
    assert plan.body is not None
    assert plan.stacks is not None
    marks = [instance.mark for instance in plan.body.instances]
    seams = [seam.mark for seam in plan.job.seams]
    return {
        "number": step.number,
        "kind": step.kind,
        "title": step.title,
        "reason": step.reason,
        "parts": [marks[i] for i in step.parts],
        "work": [
            {
                "seam": seams[work.seam] if work.seam >= 0 else "",
                "rivets": [plan.stacks.number[i] for i in work.rivets.tolist()],
                "driver_side": work.driver_side,
                "driver_access": work.driver_access,
                "holder_access": work.holder_access,
                "driver_by": work.driver_by,
                "holder_by": work.holder_by,
                "driver_tool": work.driver_tool,
                "holder_tool": work.holder_tool,
                "bolts_out": work.bolts_out,
                "note": work.note,
                "in_turn_with": work.partner,
            }
            for work in step.work
        ],
        "bolts": [{"seam": seams[seam], "count": count} for seam, count in step.bolts],
        "fitted": [plan.stacks.number[i] for i in step.fitted],
        "unproved": [{"seam": seams[seam], "count": count} for seam, count in step.unproved],
        "checks": list(step.checks),
        "cautions": list(step.cautions),
        "lift": _number(step.lift),
        "lifts": [_plain(asdict(one)) | {"pieces": [marks[i] for i in one.pieces]} for one in step.lifts],
        "off": [{"piece": marks[one.instance], "where": one.where} for one in step.off],
        "lie": _lie_record(plan.stacks, step.lie) if step.lie else None,
    }


def _lie_record(stacks: "Stacks", lie: "Lie") -> dict[str, Any]:
    record: dict[str, Any] = _plain(asdict(lie))
    return record | {"short": [stacks.number[i] for i in lie.short]}


def _supply_record(supply: "Supply") -> dict[str, Any]:
    def rows(lines: tuple[Any, ...]) -> list[dict[str, Any]]:
        return [{name: _plain(getattr(line, name)) for name in line.__slots__} for line in lines]

    return {
        "plates": rows(supply.plates),
        "bars": rows(supply.bars),
        "rivets": rows(supply.rivets),
        "bolts": rows(supply.bolts),
        "total_mass": _number(supply.total_mass),
        "rivet_mass": _number(supply.rivet_mass),
    }


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return _number(value) if isinstance(value, float) else value


def _account_record(account: "Account") -> dict[str, Any]:
    return {"what": account.what, "total": account.total, "shares": dict(account.shares)}
