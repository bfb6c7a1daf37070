"""The form of the job file: its own tables, and all tables by name; the pydantic models stand in the rooms beside."""

from typing import Annotated, Literal

from pydantic import StringConstraints

from fabplan.job.fields import Date, Form, Truth
from fabplan.job.joint_form import (
    DryFitForm,
    FastenerForm,
    LevelForm,
    LocationForm,
    OrderForm,
    PlaceForm,
    RivetForm,
    SeamForm,
    WeldForm,
)
from fabplan.job.part_form import PartForm
from fabplan.job.setout_form import SetoutForm
from fabplan.job.works_form import ShopForm, SupplierForm, ToolForm


class JobForm(Form):
    """The table [job]."""

    title: str = ""
    number: str = ""
    revision: str = ""
    date: Date | None = None
    rules: str = "en1993-1-8-2005"
    datum: str = ""
    exposed: Truth | None = None
    drawings: str = "."


class AcceptForm(Form):
    """A table [[accept]]: a finding that somebody answers for."""

    check: Annotated[str, StringConstraints(min_length=1)]
    fingerprint: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{8,64}$")]
    by: Annotated[str, StringConstraints(min_length=1)]
    date: Date
    reason: Annotated[str, StringConstraints(min_length=3)]
    drawing: str = ""
    part: str = ""
    seam: str = ""
    holes: tuple[str, ...] = ()


class HoldForm(Form):
    """A table [[hold]]: work stops after a kind of step until somebody has signed."""

    step: Literal[
        "datum", "erect", "dry-fit", "square", "template", "weld", "part", "rivet", "close", "turn", "bolt", "test"
    ]
    by: Annotated[str, StringConstraints(min_length=1, max_length=60)]
    what: str = ""


LISTS: dict[str, type[Form]] = {
    "rivet": RivetForm,
    "fastener": FastenerForm,
    "part": PartForm,
    "seam": SeamForm,
    "weld": WeldForm,
    "level": LevelForm,
    "order": OrderForm,
    "location": LocationForm,
    "dry_fit": DryFitForm,
    "place": PlaceForm,
    "setout": SetoutForm,
    "supplier": SupplierForm,
    "tool": ToolForm,
    "accept": AcceptForm,
    "hold": HoldForm,
}
"""Tables that may stand more than once, as [[rivet]]."""

SINGLE: dict[str, type[Form]] = {"job": JobForm, "shop": ShopForm}
"""Tables that stand once, as [job]; [layers] holds free names and has no form."""

SHEETS = {"parts": "part", "rows": "rows", "folds": "folds"}
"""Keys that name a spreadsheet, and the table or the list of a part whose records it holds."""

ROLES = ("CUT", "RIVET", "BOLT", "MARK", "FOLD", "ROLL", "NOTE")
"""Roles of layers; a row name may follow RIVET and BOLT."""
