"""A job file for a kit given by tables and bare drawings, with the seams that its holes propose."""

from collections.abc import Iterator, Mapping, Sequence

from fabplan.geom.pose import to_outer
from fabplan.job.starter import quoted, rivet_table
from fabplan.model.drawing import Drawing
from fabplan.model.figures import runs
from fabplan.model.pose import Pose
from fabplan.model.proposal import Proposal, ProposedSeam

TABLES = ("parts", "rows", "folds")


def bare_job(title: str, drawings: Sequence[Drawing], tables: Sequence[str], datum: str = "") -> tuple[str, str]:
    """Text of a job without seams, and the mark of its rivet.

    Args:
        title: of the job.
        drawings: of its plates: the commonest hole tells the rivet.
        tables: file names of those of `TABLES` that are there.
        datum: mark of the piece that all others are set from, "" where it is not chosen yet.
    """
    sheets = "".join(f"{name.split('.')[0]} = {quoted(name)}\n" for name in tables)
    head = "# A job for fabplan, begun from bare drawings and tables.\n" + sheets
    text, mark = rivet_table(drawings)
    chosen = f"datum = {quoted(datum)}\n" if datum else ""
    job = f'[job]\ntitle = {quoted(title)}\nrevision = "A"\nrules = "en1993-1-8-2005"\n{chosen}'
    return f"{head}\n{job}\n{text}", mark


def seam_tables(told: Proposal, marks: Sequence[str], rivet: str, *, sure: bool) -> str:
    """The proposed seams as tables of the job file; as comments where they are not sure."""
    lines = []
    for seam in told.seams:
        plies = ", ".join(quoted(f"{marks[instance]}/{row}") for instance, row in seam.rows)
        lines.append("")
        lines.append(
            f"[[seam]]                            # {len(seam.points)} rivets; holes of the rows: {_counts(seam.of)}"
        )
        lines += [f"mark = {quoted(seam.mark)}", f"parts = [{plies}]", *_holes(seam), f"rivet = {quoted(rivet)}"]
    head = "# Seams by the holes that meet: look at their pictures, then state tight, load and head.\n"
    if not sure:
        head = "# Not sure: these rows may belong together. Take the signs # away from those that do.\n"
        lines = [f"# {line}".rstrip() for line in lines]
    return head + "\n".join(lines) + "\n"


def _holes(seam: ProposedSeam) -> Iterator[str]:
    """Which holes of its rows a seam takes, where it leaves some to others."""
    if any(len(own) < count for own, count in zip(seam.numbers, seam.of, strict=True)):
        taken = (
            runs(own, "-") if len(own) < count else "all" for own, count in zip(seam.numbers, seam.of, strict=True)
        )
        yield f"holes = [{', '.join(map(quoted, taken))}]"


def _counts(of: Sequence[int]) -> str:
    return " and ".join(map(str, of))


def place_tables(poses: Mapping[int, Pose], marks: Sequence[str], pieces: Mapping[str, Sequence[int]]) -> str:
    """Pieces whose places are chosen, as tables of the job file.

    Args:
        poses: of the pieces.
        marks: of the pieces.
        pieces: which to write, under what is said of them.
    """
    return "".join(
        f"\n# {words}\n" + "\n".join("\n".join(_place(marks[i], poses[i])) + "\n" for i in own)
        for words, own in pieces.items()
    )


def _place(mark: str, pose: Pose) -> Iterator[str]:
    yield "[[place]]"
    yield f"part = {quoted(mark)}"
    x, y = pose.rotation[:, 0], pose.rotation[:, 1]
    origin = to_outer(pose, pose.origin * 0.0)
    for key, values in (("origin", origin), ("x", x), ("y", y)):
        yield f"{key} = [{', '.join(f'{round(float(value), 6) + 0.0:.10g}' for value in values)}]"
