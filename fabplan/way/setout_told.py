"""What setting out did, in sentences and as a record for machines."""

from collections.abc import Collection, Iterator, Sequence
from typing import Any

import numpy as np

from fabplan.job.with_rows import row_line
from fabplan.model.setout import Bound, Laid
from fabplan.sheets.record import finding_record
from fabplan.way.setout import SetOut


def told(done: SetOut) -> Iterator[str]:
    """What was laid and why, what was not and why, what was written and what is left to do."""
    broken = {finding.check for finding in done.findings}
    for one in done.laid:
        yield from _seam(one, broken)
    for other in done.not_laid:
        yield f"NOT LAID  seam {other.seam}: {other.what}. {other.mend}"
    for mark, rows in done.rows.items():
        yield f"rows of {mark}:"
        yield from (f"  {row_line(row)}," for row in rows)
    yield from (f"not marked  {words}" for words in done.unmarked)
    if done.folder is not None:
        yield f"{len(done.written)} files in {done.folder}; the job's own drawings are as they were"
    for proof in done.proofs:
        yield f"read back: seam {proof.seam}, {proof.rivets} rivets, holes of all plies within {proof.apart:.6f} mm"
    if done.folder is not None and not done.job_file:
        yield f'the job file is not written anew: put these rows in, and `drawings = "{done.folder}"` into [job]'


def _seam(one: Laid, broken: Collection[str]) -> Iterator[str]:
    plies = ", ".join(f"{ply.instance} {_holes(int(ply.new.sum()), len(ply.new))}" for ply in one.plies)
    yield f"seam {one.seam}: {one.count} rivets, {pitches(one)}{_ends(one)}"
    yield f"  holes: {plies}"
    yield from (f"  {words}" for words in one.why)
    for bound in _strictest(one.bounds):
        kept = "asked" if f"{bound.sense}-{bound.measure}".replace(" ", "-") in broken else "kept"
        yield f"  {kept}: {bound.measure}, {bound.sense} {bound.value:.4g} mm: {bound.words} ({bound.source})"


def _strictest(bounds: Sequence[Bound]) -> Iterator[Bound]:
    """Of the limits of each measure the one that binds, from either side."""
    for measure, sense in dict.fromkeys((bound.measure, bound.sense) for bound in bounds):
        own = [bound for bound in bounds if (bound.measure, bound.sense) == (measure, sense)]
        side = max if sense == "least" else min
        yield side(own, key=lambda bound: bound.value)


def _holes(new: int, count: int) -> str:
    return f"{new} new" + (f", {count - new} there already" if new < count else "")


def pitches(one: Laid) -> str:
    """The spaces of the first line as a draughtsman writes them: 7 @ 40 = 280."""
    runs = [f"{count} @ {_figure(wide)} = {_figure(count * wide)}" for count, wide in one.spaces]
    return ", ".join(runs)


def _figure(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _ends(one: Laid) -> str:
    if not all(np.isfinite(one.ends)):
        return ""
    return f", end distances {_figure(one.ends[0])} and {_figure(one.ends[1])}"


def record(done: SetOut) -> dict[str, Any]:
    """What was done, for machines; lengths in mm."""
    return {
        "laid": [_record(one) for one in done.laid],
        "not_laid": [{"seam": one.seam, "what": one.what, "mend": one.mend} for one in done.not_laid],
        "rows": {mark: [dict(row) for row in rows] for mark, rows in done.rows.items()},
        "not_marked": list(done.unmarked),
        "folder": str(done.folder) if done.folder is not None else "",
        "written": list(done.written),
        "job_written": done.job_file,
        "read_back": [{"seam": one.seam, "rivets": one.rivets, "apart": round(one.apart, 9)} for one in done.proofs],
        "findings": [finding_record(one) for one in done.findings],
    }


def _record(one: Laid) -> dict[str, Any]:
    return {
        "seam": one.seam,
        "rivets": one.count,
        "on": one.on,
        "spaces": [{"count": count, "pitch": round(wide, 6)} for count, wide in one.spaces],
        "ends": [round(end, 6) if np.isfinite(end) else None for end in one.ends],
        "why": list(one.why),
        "limits": [
            {key: getattr(bound, key) for key in ("measure", "sense", "value", "words", "level", "source")}
            for bound in one.bounds
        ],
        "plies": [
            {
                "piece": ply.instance,
                "row": ply.row,
                "leg": ply.leg,
                "new": int(ply.new.sum()),
                "xy": np.round(ply.xy, 6).tolist(),
            }
            for ply in one.plies
        ],
    }
