"""The text of the report: nothing becomes markup, everything adds up, the same bytes, no PDF library."""

import base64
import hashlib
import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import pytest

from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from fabplan.sheets.caution import PLANNING_AID, stopped
from fabplan.sheets.markup import element, words
from fabplan.sheets.report import report
from fabplan.sheets.report_tables import MOST_FINDINGS, MOST_ROWS, account_table, verdict
from fabplan.sheets.schedule import hole_schedule, runs
from fabplan.way.look import Outcome, Wanted, look

ROOT = Path(__file__).parents[2]
VOID = {"meta"}


class Nesting(HTMLParser):
    """Python's own reader of HTML: every element closed in its turn, every text gathered."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


@pytest.fixture(scope="module")
def faulty() -> Outcome:
    return look(Wanted(ROOT / "drawings" / "faulty"))


@pytest.fixture(scope="module")
def page(faulty: Outcome) -> str:
    return report(faulty.checked, faulty.job, faulty.findings)


def read(page: str) -> str:
    reader = Nesting()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return " ".join(reader.texts)


def test_every_element_is_closed_in_its_turn(page: str) -> None:
    read(page)


def test_the_same_input_gives_the_same_bytes(faulty: Outcome, page: str) -> None:
    assert report(faulty.checked, faulty.job, faulty.findings) == page


def test_the_policy_names_the_one_style_and_the_one_script(page: str) -> None:
    """Content Security Policy Level 3: the hash of the text between the tags."""
    (policy,) = re.findall('Content-Security-Policy" content="([^"]*)"', page)
    assert policy.startswith("default-src 'none'; ")
    for tag in ("style", "script"):
        (text,) = re.findall(f"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert "http" not in page.replace("http-equiv", "")


def test_every_finding_is_told_with_its_figures_source_and_remedy(faulty: Outcome, page: str) -> None:
    told = read(page)
    for finding in faulty.findings:
        for text in (finding.check, finding.what, finding.source, finding.mend):
            assert text in told
    assert PLANNING_AID in told


def test_every_drawing_is_told_by_its_fingerprint_and_account(faulty: Outcome, page: str) -> None:
    told = read(page)
    for one in faulty.checked:
        assert one.drawing.name in told
        assert one.drawing.fingerprint[:8] in told
        assert all(line in told for line in (*one.not_checked, *one.used))


def test_findings_of_the_kit_stand_beside_those_of_drawings(bowser_plan: Plan) -> None:
    told = read(report(bowser_plan.checked, bowser_plan.job, bowser_plan.findings))
    assert "Findings that no single drawing bears" in told
    assert all(finding.what in told for finding in bowser_plan.findings)


def test_the_verdict_never_says_more_than_the_checks_know(faulty: Outcome) -> None:
    stop = next(finding for finding in faulty.findings if finding.level is Level.STOP)
    assert verdict([]) == "No fault found by these checks with these data."
    assert verdict([stop, stop]) == stopped(2)
    assert verdict([replace(stop, accepted="tried on the bench")]).endswith("with these data but those accepted.")
    assert verdict([replace(stop, level=Level.QUERY)]) == "No stop; ask before it goes out."


def test_the_account_adds_up_where_rows_are_left_out(faulty: Outcome) -> None:
    """Counts of the table summed by the test against entities made up here."""
    drawing = faulty.checked[0].drawing
    entry = replace(drawing.account[0], fate="reported")
    many = (*(replace(entry, layer=f"L{k}") for k in range(3 * MOST_ROWS)), replace(entry, fate="used"))
    told = str(account_table(replace(drawing, account=many, scanned=len(many))))
    counts = [int(number) for number in re.findall(r'data-head="count" class="figure">(\d+)<', told)]
    assert sum(counts) == 3 * MOST_ROWS
    assert len(counts) == MOST_ROWS + 1
    assert f"{3 * MOST_ROWS + 1} entities = 1 used + 0 set aside + {3 * MOST_ROWS} reported" in told


def test_no_count_of_findings_makes_a_page_without_end(faulty: Outcome) -> None:
    one = next(one for one in faulty.checked if one.findings and one.findings[0].where.xy)
    page = report([replace(one, findings=one.findings[:1] * (MOST_FINDINGS + 7))], None, ())
    assert page.count('data-head="no"') == MOST_FINDINGS
    assert "7 more findings, not shown here" in page
    assert f"Not for issue: {MOST_FINDINGS + 7} stops" in page


def test_runs_are_written_as_the_trade_writes_them() -> None:
    """Seven spaces of 40 are 280, and one of 55 (arithmetic)."""
    places = np.column_stack([[0, 40, 80, 120, 160, 200, 240, 280, 335], np.zeros(9)])
    assert runs(places[:8]) == "7 @ 40 = 280"
    assert runs(places) == "7 @ 40 = 280 + 55"
    assert runs(places[:1]) == "single"


def test_the_schedule_holds_every_hole_once(faulty: Outcome) -> None:
    for one in faulty.checked:
        own = [hole for group in hole_schedule(one.drawing.holes) for hole in group.holes]
        assert sorted(own) == list(range(len(one.drawing.holes)))


@pytest.mark.parametrize("text", ["<b>", '"quoted"', "it's", "&amp;", "</script>", "\x00\ud800\u202e", "x" * 10**6])
def test_no_text_becomes_markup(text: str) -> None:
    told = str(element("p", text, title=text))
    reader = Nesting()
    reader.feed(told)
    assert told.count("<") == 2
    assert told.encode("utf-8")
    assert len(told) < 1000
    if len(text) < 100 and text.isprintable():
        assert reader.texts == [text]
    assert words(words(text)) == words(text)


def test_a_report_loads_no_heavy_library(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom pathlib import Path\n"
        "from fabplan.way.look import Wanted, look\nfrom fabplan.way.report import write_report\n"
        "outcome = look(Wanted(Path('drawings/bowser/F1.dxf'), thickness=6.0))\n"
        f"write_report(outcome, Path({str(tmp_path / 'a.html')!r}))\n"
        "print([name for name in ('scipy', 'pydantic', 'reportlab', 'xlsxwriter', 'networkx') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"
    assert (tmp_path / "a.html").read_bytes().startswith(b"<!doctype html>")


def test_the_command_writes_one_file_and_the_same_bytes_each_time(tmp_path: Path) -> None:
    def check(path: Path) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "fabplan", "check", "drawings/faulty", "--report", str(path)]
        return subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)

    assert check(tmp_path / "a.html").returncode == 1
    assert check(tmp_path / "b.html").returncode == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.html", "b.html"]
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "b.html").read_bytes()
    refused = check(tmp_path)
    assert refused.returncode == 2
    assert "cannot be written" in refused.stderr


def test_names_of_rows_and_numbers_of_rings_stand_at_their_own_piece(tmp_path: Path) -> None:
    """Two plates side by side, a row 25 mm over the foot of each: its name lies towards the middle of its own plate."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    for x in (0.0, 500.0):
        ring = [(x, 0.0), (x + 400.0, 0.0), (x + 400.0, 200.0), (x, 200.0)]
        space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
        for k in range(6):
            space.add_circle((x + 25.0 + 50.0 * k, 25.0), 5.5, dxfattribs={"layer": "RIVET A"})
    space.add_circle((700.0, 100.0), 1.0, dxfattribs={"layer": "CUT"})
    space.add_circle((700.0, 106.0), 1.0, dxfattribs={"layer": "CUT"})
    document.saveas(tmp_path / "two.dxf")
    outcome = look(Wanted(tmp_path / "two.dxf", thickness=6.0))
    screen = report(outcome.checked, None, outcome.findings)
    group = r'data-x="([^"]*)" data-y="[^"]*" class="letter">'
    rows = re.findall(group + r'<text text-anchor="([a-z]+)" x="0" y="(-?)[0-9]+">A of', screen)
    assert [anchor for _, anchor, _ in rows] == ["start", "start"], "both first holes lie left of their middles"
    assert [sign for _, _, sign in rows] == ["-", "-"], "and below them"
    assert [float(x) for x, _, _ in rows] == [25.0, 525.0]
    assert "25, 25" in screen
    assert "525, 25" not in screen
