"""One case of the campaign: a damaged drawing taken through the whole look, and what must hold of the outcome."""

import json
import resource
import signal
import tempfile
import traceback
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from random import Random
from types import FrameType
from typing import NoReturn

from fabplan.drawing.say import FAILED
from fabplan.errors import FabplanError
from fabplan.model.drawing import FATES, Drawing
from fabplan.model.joints import RivetSpec
from fabplan.sheets.check_sheet import check_sheet
from fabplan.sheets.lint import lint
from fabplan.sheets.report import report
from fabplan.way.look import Outcome, Wanted, look, record
from tests.fuzz.damage import damaged, sources
from tests.fuzz.structure import DRAWN, Tag, drawn, restructured, structures, written

SECONDS = 10  # of the processor for one case, however busy the machine; the slowest take about one
MEMORY = 3_000_000_000  # bytes of one process
RIVET = RivetSpec("R10", 10.0, 11.0)
OTHER = 7  # every seventh case is damaged in its structure alone, so that its entities can be counted
EACH = 10  # every tenth case is also laid out as a check sheet


@dataclass(frozen=True)
class Case:
    """What came of one case: what is wrong with it, "" for nothing, and the checks that found something."""

    seed: int
    fault: str
    checks: tuple[str, ...] = ()


def limit() -> None:
    """Bound the memory of this process."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


def case(seed: int) -> Case:
    """Damage one drawing and look at it whole."""
    random = Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "damaged.dxf"
        tags = restructured(random.choice(structures()), random) if seed % OTHER == OTHER // 2 else []
        path.write_bytes(written(tags) if tags else damaged(random.choice(_sources()), random))
        signal.signal(signal.SIGPROF, _too_long)
        signal.setitimer(signal.ITIMER_PROF, SECONDS)
        try:
            outcome = look(Wanted(path, thickness=6.0, rivet=RIVET))
            fault = fault_of(outcome) or (lost(outcome.checked[0].drawing, tags) if tags else "")
            fault = fault or (_sheet_fault(outcome) if seed % EACH == 0 else "")
        except FabplanError:
            return Case(seed, "", ("FabplanError",))
        except Exception:  # any other, MemoryError and the clock's among them, is what the campaign looks for
            return Case(seed, traceback.format_exc(limit=-4))
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
    return Case(seed, fault, tuple(sorted({finding.check for finding in outcome.findings})))


_read: list[bytes] = []


def _sources() -> list[bytes]:
    if not _read:
        _read.extend(sources())
    return _read


def _too_long(number: int, frame: FrameType | None) -> NoReturn:
    raise TimeoutError(f"over {SECONDS} s")


def fault_of(outcome: Outcome) -> str:
    """What is wrong with an outcome, "" for nothing."""
    json.dumps(record(outcome), allow_nan=False)
    page = report(outcome.checked, outcome.job, outcome.findings)
    if "<b onload" in page or page.count("<script") != 1:
        return "words of the drawing became markup"
    failed = [finding.what for finding in outcome.findings if finding.what.startswith(FAILED)]
    open_ones = [fault for one in outcome.checked if (fault := account_fault(one.drawing))]
    return next(iter([*failed, *open_ones]), "")


def _sheet_fault(outcome: Outcome) -> str:
    pages = [page for one in outcome.checked for page in check_sheet(one, None)]
    return next((f"the sheet: {faults[0]}" for page in pages if (faults := lint(page))), "")


def lost(drawing: Drawing, tags: list[Tag]) -> str:
    """Entities of a file that its account lacks or has too many of, "" for none."""
    own, told = drawn(tags), Counter(entry.kind for entry in (*drawing.account, *drawing.paper) if entry.kind in DRAWN)
    return "" if own == told else f"lost: {dict(own - told)}, too many: {dict(told - own)}"


def account_fault(drawing: Drawing) -> str:
    """What is wrong with the account of a drawing, "" for nothing."""
    if any(entry.fate not in FATES or not entry.reason for entry in drawing.account):
        return "an entry without fate or reason"
    if len({entry.handle for entry in drawing.account}) != len(drawing.account):
        return "a handle twice in the account"
    checks = {finding.check for finding in drawing.findings}
    if len(drawing.account) != drawing.scanned and "account-open" not in checks:
        return f"{drawing.scanned} entities scanned, {len(drawing.account)} in the account, and nothing said"
    if any("no reader can read it" in entry.reason for entry in drawing.account) and not checks:
        return "an entity lost and nothing said"
    return ""
