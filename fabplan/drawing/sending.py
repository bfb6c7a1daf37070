"""The file held against what the supplier reads: version, unit, layers, marking."""

from collections.abc import Iterator
from dataclasses import replace

from fabplan.drawing.limits import whose
from fabplan.drawing.roles import role_of
from fabplan.drawing.say import NO_FIGURES, finding
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Supplier

VERSIONS = {
    "AC1009": "R12",
    "AC1012": "R13",
    "AC1014": "R14",
    "AC1015": "R2000",
    "AC1018": "R2004",
    "AC1021": "R2007",
    "AC1024": "R2010",
    "AC1027": "R2013",
    "AC1032": "R2018",
}
"""Names of the versions that a DXF file's header states (DXF reference, $ACADVER)."""


def dxf_version(drawing: Drawing, supplier: Supplier) -> Iterator[Finding]:
    """A version that he does not read."""
    own = VERSIONS.get(drawing.dxf_version, drawing.dxf_version or "of no stated version")
    if supplier.dxf_versions and drawing.outline is not None and own not in supplier.dxf_versions:
        what = f"the file is DXF {own}, the supplier reads {', '.join(supplier.dxf_versions)}"
        mend = f"Save it as DXF {supplier.dxf_versions[-1]}."
        yield _found("dxf-version", what, mend, Where(drawing=drawing.name), supplier)


def supplier_unit(drawing: Drawing, supplier: Supplier) -> Iterator[Finding]:
    """A unit that he does not take."""
    if supplier.units and drawing.outline is not None and drawing.units != supplier.units:
        what = f"the file is drawn in {drawing.units}, the supplier takes {supplier.units}"
        mend = f"Save it in {supplier.units}, at full size."
        yield _found("supplier-unit", what, mend, Where(drawing=drawing.name), supplier)


def supplier_layers(drawing: Drawing, supplier: Supplier, roles: tuple[tuple[str, str], ...]) -> Iterator[Finding]:
    """Layers that he does not want, in one finding."""
    wanted = {role: layer.casefold() for role, layer in supplier.layers}
    if not wanted:
        return
    layers = {entry.layer: role_of(entry.layer, roles).name for entry in drawing.account}
    bare = not any(layers.values())
    wrong = [layer for layer, role in sorted(layers.items()) if not _takes(wanted, layer, "CUT" if bare else role)]
    if wrong:
        asks = ", ".join(f"{role} on {layer}" for role, layer in supplier.layers)
        what = f"layers that the supplier does not want: {', '.join(wrong)}; he asks for {asks}"
        handles = tuple(entry.handle for entry in drawing.account if entry.layer in wrong)
        mend = "Send him a copy with his layers, and without the rest."
        yield _found("supplier-layer", what, mend, Where(drawing=drawing.name, handles=handles), supplier)


def _takes(wanted: dict[str, str], layer: str, role: str) -> bool:
    """True for a layer of a role that he wants under this name, a row's name behind it or not."""
    own, plain = wanted.get(role), layer.casefold()
    return own is not None and (plain == own or any(plain.startswith(own + sign) for sign in " _-"))


def supplier_marking(drawing: Drawing, supplier: Supplier) -> Iterator[Finding]:
    """Lines to be marked that he does not mark."""
    if supplier.marking == "none" and drawing.marks:
        many = "a line" if len(drawing.marks) == 1 else f"{len(drawing.marks)} lines"
        what = f"{many} to be marked, and the supplier marks none"
        where = Where(drawing=drawing.name, handles=tuple(line.handle for line in drawing.marks))
        x, y = drawing.marks[0].points[0].tolist()
        mend = "Mark the piece in the shop, and leave these lines out of his file."
        yield _found("supplier-marking", what, mend, replace(where, xy=(x, y)), supplier)


def _found(check: str, what: str, mend: str, where: Where, supplier: Supplier) -> Finding:
    return replace(finding(check, what, mend, where, NO_FIGURES), source=whose(supplier))
