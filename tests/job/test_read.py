"""A job file read into the model, and every kind of damage to it told in words."""

import pickle
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fabplan.errors import FabplanError, JobError
from fabplan.job.read import read_job
from fabplan.model.bends import FoldSpec, RollSpec
from fabplan.model.job import HoldSpec, Shop
from fabplan.model.joints import PlySpec, RivetSpec
from tests.job.written import GOOD, RULES, changed, faults, read


def test_a_sound_job(folder: Path) -> None:
    job = read(folder, GOOD)
    assert (job.title, job.number, job.date, job.datum) == ("Water cart, invented", "B7", "2026-11-02", "F1")
    assert job.exposed is True
    assert job.drawings == folder
    assert job.rivets == (RivetSpec("R10", 10.0, 11.0, "round", "round", "hot", ""),)
    floor, side, angle = job.parts
    assert (floor.thickness, floor.grade, floor.size, floor.quantity) == (6.0, "S275", (2400.0, 1200.0), 1)
    assert floor.folds == (FoldSpec("FOLD 1", 90.0, 10.0),)
    assert (side.hand, side.drawn) == ("pair", "R")
    assert (angle.section, angle.length, angle.quantity) == ("L50x50x6", 2360.0, 2)
    # 2320 / 58 = 40 a space
    assert angle.rows[0].at == pytest.approx([20.0 + 40.0 * i for i in range(59)])
    assert (angle.rows[1].at, angle.rows[1].purpose) == ((20.0, 60.5, 140.0), "bolt")
    assert job.seams[0].plies == (PlySpec("F1", "left"), PlySpec("A1-1", "floor"))
    assert job.seams[0].tight
    assert job.places[0].y == (0.0, 0.0, 1.0)
    assert (job.suppliers[0].limits_dated, job.suppliers[0].smallest_hole) == ("2026-03-01", (0.0, 1.0))
    assert job.suppliers[0].smallest_web == (3.0, 0.0)
    assert job.roles == (("SCHNITT", "CUT"), ("BORD", "RIVET left"))
    assert (job.shop.spares_percent, job.shop.tools[0].name) == (10.0, "bar")
    assert job.shop.driving_order == Shop().driving_order


def test_a_ply_without_a_row_has_the_row_of_the_seams_name(folder: Path) -> None:
    assert read(folder, GOOD).seams[1].plies == (PlySpec("A1-2", "side"), PlySpec("S1R", "side"))


def test_the_datum_is_the_first_plate_that_stands_once(folder: Path) -> None:
    assert read(folder, changed(('datum = "F1"\n', ""))).datum == "F1"
    doubled = [("thickness = 6", "thickness = 6\nquantity = 2"), ('"F1/left"', '"F1-1/left"')]
    assert read(folder, changed(('datum = "F1"\n', ""), *doubled)).datum == "F1-1"
    bar = '[[part]]\nmark = "B"\nsection = "FL50x6"\nlength = 100\n'
    assert read(folder, bar).datum == "B"


def test_a_lean_job(folder: Path) -> None:
    job = read(folder, '[[part]]\nmark = "F1"\ndrawing = "floor.dxf"\n')
    assert (job.parts[0].thickness, job.rules, job.exposed) == (None, "en1993-1-8-2005", None)


def test_drawings_in_a_folder_of_their_own(folder: Path) -> None:
    (folder / "sub").mkdir()
    (folder / "sub" / "floor.dxf").write_text("", "utf-8")
    job = read(folder, '[job]\ndrawings = "sub"\n[[part]]\nmark = "F1"\ndrawing = "floor.dxf"\n')
    assert job.drawings == folder / "sub"


def test_tools_may_stand_by_themselves(folder: Path) -> None:
    tool = '[[tool]]\nname = "gun"\nuse = "drive"\nnose_diameter = 26\nnose_length = 60\nbody_diameter = 70\n'
    job = read(folder, GOOD + tool + "body_length = 240\nbody_offset = 20\n")
    assert {one.name for one in job.shop.tools} == {"bar", "gun"}


def test_a_spanner_has_a_handle_and_swings_where_it_turns(folder: Path) -> None:
    for use, swing, wrong in (("turn", 30.0, ""), ("turn", 0.0, "swing"), ("keep", 0.0, ""), ("keep", 30.0, "swing")):
        tool = f'[[tool]]\nname = "mine"\nuse = "{use}"\nnose_diameter = 34\nnose_length = 30\nbody_diameter = 24\n'
        text = GOOD + tool + "body_length = 30\nhandle = 170\n" + (f"swing = {swing}\n" if swing else "")
        if not wrong:
            (mine,) = [one for one in read(folder, text).shop.tools if one.name == "mine"]
            assert (mine.use, mine.handle, mine.swing, mine.nose_over_head) == (use, 170.0, swing, 34.0)
            continue
        told = [fault for fault in faults(folder, text) if "mine" in fault.place]
        assert len(told) == 1
        assert wrong in f"{told[0].what} {told[0].mend}"
    (bare,) = [one for one in faults(folder, GOOD + tool + "body_length = 30\n") if "mine" in one.place]
    assert "handle" in f"{bare.what} {bare.mend}"


def test_a_yoke_is_stated_with_its_throat(folder: Path) -> None:
    tool = '[[tool]]\nname = "yoke"\nuse = "squeeze"\nnose_diameter = 26\nnose_length = 50\nbody_diameter = 60\n'
    job = read(folder, GOOD + tool + "body_length = 90\nthroat = 250\n")
    assert {tool.name: tool.throat for tool in job.shop.tools} == {"bar": 0.0, "yoke": 250.0}
    told = [fault for fault in faults(folder, GOOD + tool + "body_length = 90\n") if "yoke" in fault.place]
    assert len(told) == 1
    assert "throat" in f"{told[0].what} {told[0].mend}"


# each change is one fault: place, words of it, words of the remedy
@pytest.mark.parametrize(
    ("old", "new", "place", "what", "mend"),
    [
        ("title =", "titel =", "job.toml: [job]", 'unknown key "titel"', "Nearest: title."),
        ("exposed = true", 'exposed = "yes"', "job.toml: [job]: exposed", '"yes" is not valid', "true or false"),
        ("date = 2026-11-02", "date = 5", "job.toml: [job]: date", "5 is not valid", "a date, such as"),
        ('rules = "en1993-1-8-2005"', 'rules = "en1993"', "job.toml: [job]: rules", "rule set", "en1993-1-8-2005"),
        ('datum = "F1"', 'datum = "F2"', "job.toml: [job]: datum", '"F2" is no piece', "Nearest: F1."),
        ("hole = 11", "", 'job.toml: [[rivet]] 1 "R10"', '"hole" is missing', "State it."),
        ("diameter = 10", 'diameter = "10"', 'job.toml: [[rivet]] 1 "R10": diameter', '"10" is not', "a number"),
        ("hole = 11", "hole = nan", 'job.toml: [[rivet]] 1 "R10": hole', "nan is not valid", "finite"),
        ("hole = 11", "hole = 0", 'job.toml: [[rivet]] 1 "R10": hole', "0 is not valid", "more than 0"),
        ("hole = 11", 'hole = 11\nhead = "snap"', 'job.toml: [[rivet]] 1 "R10": head', '"snap"', '"round" or'),
        ('"floor.dxf"', '"flor.dxf"', 'job.toml: [[part]] 1 "F1": drawing', "no drawing", "Nearest: floor.dxf"),
        ('supplier = "cutter"', 'supplier = "cuter"', 'job.toml: [[part]] 1 "F1": supplier', "cuter", "cutter"),
        ("thickness = 6", "thicknes = 6", 'job.toml: [[part]] 1 "F1"', "thicknes", "Nearest: thickness."),
        ("spares_percent = 10", "table_height = -1", "job.toml: [shop]: table_height", "-1 is not", "at least 0"),
        (
            "thickness = 6",
            'provenance = { origin = "old", evidence = "stamp", doubt = "none known" }',
            'job.toml: [[part]] 1 "F1": provenance.origin',
            '"old" is not valid',
            'Expected "new", "original", "repaired", "recovered" or "copied".',
        ),
        (
            "thickness = 6",
            'provenance = { origin = "original", evidence = "stamp" }',
            'job.toml: [[part]] 1 "F1": provenance',
            "",
            "`evidence` and `doubt` of a piece that is not new",
        ),
        (
            "thickness = 6",
            "thickness = { a = [1] }",
            'job.toml: [[part]] 1 "F1": thickness',
            "{ a = [1] } is",
            "number",
        ),
        ('["F1/left", "A1-1/floor"]', "[{ b = 1 }]", 'job.toml: [[seam]] 1 "A": parts[0]', "{ b = 1 } is", "words"),
        ("size = [2400, 1200]", "size = [1]", 'job.toml: [[part]] 1 "F1": size[1]', "too few", "at least 2"),
        ("angle = 90", "angle = 180", 'job.toml: [[part]] 1 "F1": folds[0].angle', "180 is not", "under 180"),
        ("angle = 90, ", "", 'job.toml: [[part]] 1 "F1": folds[0]', '"angle" is missing', "State"),
        ("quantity = 2", "quantity = 2.0", 'job.toml: [[part]] 3 "A1": quantity', "2.0 is not", "whole number"),
        ("quantity = 2", "quantity = 2\nthickness = 6", 'job.toml: [[part]] 3 "A1"', "of a bar", "leave them out"),
        ("length = 2360", "", 'job.toml: [[part]] 3 "A1"', "without `length`", "mm"),
        ('section = "L50x50x6"', "", 'job.toml: [[part]] 3 "A1"', "neither `drawing` nor", "A plate has"),
        ('"L50x50x6"', '"IPE80"', 'job.toml: [[part]] 3 "A1": section', '"IPE80" is of no known kind', "UPN100"),
        ("count = 59", "count = 0", 'job.toml: [[part]] 3 "A1": rows[0].count', "0 is not valid", "at least 1"),
        ('leg = "b"', 'leg = "c"', 'job.toml: [[part]] 3 "A1": rows[1].leg', '"c" is not valid', '"b" or "w"'),
        ('rivet = "R10"', 'rivet = "R12"', 'job.toml: [[seam]] 1 "A": rivet', 'unknown rivet "R12"', "R10"),
        ('"F1/left"', '"G1/left"', 'job.toml: [[seam]] 1 "A": parts[0]', '"G1" is no piece', "F1"),
        ('"A1-1/floor"', '"A1/floor"', 'job.toml: [[seam]] 1 "A": parts[1]', '"A1" is no piece', "A1-1"),
        ('"A1-1/floor"', '"A1-1/flor"', 'job.toml: [[seam]] 1 "A": parts[1]', 'no row "flor"', "Nearest: floor."),
        ('"A1-1/floor"', '"F1/floor"', 'job.toml: [[seam]] 1 "A": parts[1]', "listed twice", "another piece"),
        ('["F1/left", "A1-1/floor"]', '["F1"]', 'job.toml: [[seam]] 1 "A": parts', "1 listed", "two pieces or more"),
        (
            "hole = 11",
            "hole = 9",
            'job.toml: [[rivet]] 1 "R10": hole',
            "takes no rivet of 10 mm",
            "larger than the shank",
        ),
        (
            "hole = 11",
            'hole = 11\nstandard = "DIN 999"',
            'job.toml: [[rivet]] 1 "R10": standard',
            'no head table "DIN 999"',
            "DIN 124",
        ),
        (
            "hole = 11",
            'hole = 11\nstandard = "ISO 1051"',
            'job.toml: [[rivet]] 1 "R10": standard',
            '"ISO 1051"',
            "Known: DIN 124, DIN 302",
        ),
        (
            '"L50x50x6"',
            '"L50x50x60"',
            'job.toml: [[part]] 3 "A1": section',
            "too thick for its legs",
            "then the thickness",
        ),
        (
            '"L50x50x6"',
            '"L50x50x45"',
            'job.toml: [[part]] 3 "A1": section',
            "too thick for its legs",
            "then the thickness",
        ),
        (
            '"L50x50x6"',
            '"L6x50x50"',
            'job.toml: [[part]] 3 "A1": section',
            "too thick for its legs",
            "then the thickness",
        ),
        ("thickness = 6", "thickness = 1e9", 'job.toml: [[part]] 1 "F1": thickness', "not valid", "at most 300"),
        ('mark = "side"', 'mark = "A"', 'job.toml: [[seam]] 2 "A"', "stands twice", "its own"),
        ('part = "S1L"', 'part = "S1"', 'job.toml: [[place]] 1 "S1": part', '"S1" is no piece', "S1L"),
        ("y = [0, 0, 1]", "y = [2, 0, 0]", 'job.toml: [[place]] 1 "S1L"', "the same way", "two directions"),
        ('"1.0 t"', '"1.0 d"', 'job.toml: [[supplier]] 1 "cutter": smallest_hole', "1.0 d", '"<number> t"'),
        ('"CUT"', '"CUTT"', "job.toml: [layers]: SCHNITT", '"CUTT" is no role', "Nearest: CUT."),
        ("spares_percent", "spares", "job.toml: [shop]", 'unknown key "spares"', "spares_percent"),
        ('use = "hold"', 'use = "held"', 'job.toml: [[tool]] 1 "bar": use', '"held"', '"drive", "hold"'),
        ("[[supplier]]", "[supplier]", "job.toml: [supplier]", "stands once", "[[supplier]]"),
        ('mark = "F1"', 'mark = "F/1"', 'job.toml: [[part]] 1 "F/1": mark', "not valid", 'no "/"'),
        ("[shop]", "[shp]", "job.toml", 'unknown key "shp"', "Nearest: shop."),
    ],
)
def test_each_fault_names_its_place_and_remedy(
    folder: Path, old: str, new: str, place: str, what: str, mend: str
) -> None:
    text = changed((old, new))
    told = [fault for fault in faults(folder, text) if fault.place == place and what in fault.what]
    assert told, [str(fault) for fault in faults(folder, text)]
    assert mend in told[0].mend


def test_all_faults_come_at_once_in_the_order_of_the_file(folder: Path) -> None:
    text = changed(
        ("title =", "titel ="),
        ("hole = 11", "hole = nan"),
        ('"floor.dxf"', '"flor.dxf"'),
        ("thickness = 6", "thicknes = 6"),
        ('"A1-1/floor"', '"A1-1/flor"'),
        ('rivet = "R10"', 'rivet = "R12"'),
        ("spares_percent", "spares"),
    )
    told = faults(folder, text)
    words = ["titel", "nan", "thicknes", "flor.dxf", "R12", 'row "flor"', "spares"]
    found = {word: next(i for i, fault in enumerate(told) if word in fault.what) for word in words}
    assert len(told) == len(words)
    assert found["titel"] < found["nan"] < found["flor.dxf"] < found["R12"]


def test_one_broken_part_hides_no_other_and_makes_no_more(folder: Path) -> None:
    told = faults(folder, changed(("quantity = 2", 'quantity = "two"')))
    assert [fault.place for fault in told] == ['job.toml: [[part]] 3 "A1": quantity']


def test_the_message_is_one_line_and_counts_the_faults(folder: Path) -> None:
    text = changed(("title =", "titel ="), ("hole = 11", "hole = nan"))
    with pytest.raises(JobError, match=r"titel.*\(2 faults in all\)") as caught:
        read(folder, text)
    assert "\n" not in str(caught.value)
    assert pickle.loads(pickle.dumps(caught.value)).faults == caught.value.faults


def test_pieces_of_two_parts_with_one_mark(folder: Path) -> None:
    twin = '\n[[part]]\nmark = "A1-1"\ndrawing = "floor.dxf"\n'
    assert any("bears the mark of a piece of A1" in fault.what for fault in faults(folder, GOOD + twin))


def test_broken_toml_names_the_line(folder: Path) -> None:
    with pytest.raises(FabplanError, match=r"not valid TOML: .*line 2") as caught:
        read(folder, '[job]\ntitle = "no end\n')
    assert not isinstance(caught.value, JobError)


def test_no_file_and_no_text(tmp_path: Path) -> None:
    with pytest.raises(FabplanError, match="no job file"):
        read_job(tmp_path / "job.toml")
    with pytest.raises(FabplanError, match=r"is a folder\. Name the job file in it"):
        read_job(tmp_path)
    (tmp_path / "job.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FabplanError, match="UTF-8"):
        read_job(tmp_path / "job.toml")


def test_an_empty_job(folder: Path) -> None:
    assert [fault.what for fault in faults(folder, "")] == ["no [[part]] stands in the job"]


LITERALS = ["0", "-1", "1e300", "nan", "inf", '""', '"x"', "[]", "{}", "true", "[[1]]", "1979-05-27", "10000000000"]
LINES = GOOD.splitlines()


def _read_or_refused(folder: Path, text: str) -> None:
    """Any text gives a job, or one line that says what is wrong; anything else raises and fails the test."""
    refused = ""
    try:
        assert read(folder, text).parts
    except FabplanError as error:
        refused = str(error)
    assert "\n" not in refused


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_value_replaced_at_random_is_read_or_refused(folder: Path, data: st.DataObject) -> None:
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 3))):
        number = data.draw(st.sampled_from([i for i, line in enumerate(lines) if " = " in line]))
        key = lines[number].split(" = ")[0]
        if "{" not in key:
            lines[number] = f"{key} = {data.draw(st.sampled_from(LITERALS))}"
    _read_or_refused(folder, "\n".join(lines))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_lines_lost_doubled_or_moved_are_read_or_refused(folder: Path, data: st.DataObject) -> None:
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 4))):
        here, there = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        what = data.draw(st.sampled_from(["lose", "double", "move"]))
        line = lines[here] if what == "double" else lines.pop(here)
        if what != "lose":
            lines.insert(min(there, len(lines)), line)
    _read_or_refused(folder, "\n".join(lines))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, len(GOOD) - 1), st.text(max_size=3).filter(lambda text: "\r" not in text), st.integers(0, 4))
def test_signs_changed_at_random_are_read_or_refused(folder: Path, at: int, signs: str, lost: int) -> None:
    _read_or_refused(folder, GOOD[:at] + signs + GOOD[at + lost :])


def test_the_sound_job_is_toml_to_others_too() -> None:
    assert set(tomllib.loads(GOOD)) == {"job", "rivet", "part", "seam", "place", "supplier", "layers", "shop"}
    assert RULES[0] in GOOD


def test_rolls_and_limits_of_a_supplier(folder: Path) -> None:
    text = """\
[[supplier]]
name = "cutter"
process = "laser"
limits_dated = 2026-03-01
smallest_slot = "1.0 t"
smallest_corner = 0.5
sheet = [2980, 1480]
greatest_thickness = 20
layers = { CUT = "0", MARK = "1" }
marking = "cut face"
[[part]]
mark = "F1"
drawing = "floor.dxf"
thickness = 6
supplier = "cutter"
rolls = [{ from = "ROLL 1", to = "ROLL 2", inside_radius = 400 }]
[[part]]
mark = "F2"
drawing = "floor.dxf"
thickness = 6
roll = { axis = "x", inside_radius = -300 }
"""
    job = read(folder, text)
    cutter = job.suppliers[0]
    assert (cutter.smallest_slot, cutter.smallest_corner) == ((0.0, 1.0), (0.5, 0.0))
    assert (cutter.sheet, cutter.greatest_thickness, cutter.layers) == ((2980, 1480), 20, (("CUT", "0"), ("MARK", "1")))
    assert job.parts[0].rolls == (RollSpec("ROLL 1", "ROLL 2", 400.0),)
    assert job.parts[1].rolls == (RollSpec("", "", -300.0, "x"),)


BENDER = """\
[[supplier]]
name = "press shop"
limits_dated = 2026-03-01
die = "8 t"
bends = [
  {{ thickness = 4, inside_radius = 6, deduction = 8.257 }},
  {{ thickness = 4, inside_radius = 6, angle = 45, allowance = {allowance} }},{more}
]
[[part]]
mark = "F1"
drawing = "floor.dxf"
thickness = 4
grain = "y"
bender = "{bender}"
formed_size = [100, 1200, 60]
folds = [{{ line = "FOLD 1", angle = 90, inside_radius = 6 }}]
"""


def test_a_benders_own_table(folder: Path) -> None:
    """Either figure as the length of the bent zone: 2 (6 + 4) less 8.257 at 90 degrees, as DIN 6935 has it."""
    job = read(folder, BENDER.format(allowance=5.9, more="", bender="press shop"))
    (press,) = job.suppliers
    assert (press.die, [row.angle for row in press.bends]) == ((0.0, 8.0), [90.0, 45.0])
    assert [row.zone for row in press.bends] == pytest.approx([20.0 - 8.257, 5.9])
    part = job.parts[0]
    assert (part.bender, part.grain, part.formed_size) == ("press shop", "y", (100.0, 1200.0, 60.0))


def test_a_benders_table_that_cannot_be(folder: Path) -> None:
    """At 45 degrees and 6 mm the bent zone of 4 mm plate measures 4.71 mm inside, 7.85 mm outside."""
    both = "\n  { thickness = 4, inside_radius = 6, deduction = 8, allowance = 12 },"
    name, zone, both_stated = [
        str(fault) for fault in faults(folder, BENDER.format(allowance=8.0, more=both, bender="pres shop"))
    ]
    assert 'unknown supplier "pres shop". Nearest: press shop.' in name
    assert "bends[1]" in zone
    assert "4.71 to 7.85 mm" in zone
    assert "either `deduction`" in both_stated


def test_names_are_told_beside_faults_of_form(folder: Path) -> None:
    """A seam of one piece with an unknown rivet, a place with a short origin and an unknown piece: four faults."""
    text = changed(('["F1/left", "A1-1/floor"]', '["F1/left"]'), ('rivet = "R10"', 'rivet = "R11"'), ('"S1L"', '"Q"'))
    text = text.replace("origin = [0, 0, 0]", "origin = [0, 0]")
    told = [str(fault) for fault in faults(folder, text)]
    assert len([line for line in told if "1 listed" in line or 'unknown rivet "R11"' in line]) >= 2, told
    assert any('"Q" is no piece' in line for line in told), told


def test_hold_points_are_read_and_their_steps_checked(folder: Path) -> None:
    text = f'{GOOD}\n[[hold]]\nstep = "dry-fit"\nby = "owner"\n'
    assert read(folder, text).holds == (HoldSpec("dry-fit", "owner"),)
    (fault,) = faults(folder, text.replace("dry-fit", "dryfit"))
    assert "[[hold]] 1" in fault.place
    assert '"dry-fit"' in fault.mend


def test_holes_of_a_row_are_named_by_numbers_and_runs(folder: Path) -> None:
    stated = changed(('["F1/left", "A1-1/floor"]', '["F1/left", "A1-1/floor"]\nholes = ["all", "12, 1-3 , 3"]'))
    plies = read(folder, stated).seams[0].plies
    assert [ply.numbers for ply in plies] == [(), (1, 2, 3, 12)]


@pytest.mark.parametrize(
    ("holes", "mend"),
    [
        ('["1-3"]', "`holes` for each of `parts`"),
        ('["all", "9-2"]', '"all", or numbers along the row'),
        ('["all", "0-2"]', '"all", or numbers along the row'),
        ('["all", "first"]', '"all", or numbers along the row'),
        ('["all", ""]', '"all", or numbers along the row'),
    ],
)
def test_holes_of_a_row_that_cannot_be(folder: Path, holes: str, mend: str) -> None:
    told = faults(folder, changed(('["F1/left", "A1-1/floor"]', f'["F1/left", "A1-1/floor"]\nholes = {holes}')))
    assert any(mend in fault.mend and fault.place.startswith("job.toml: [[seam]] 1") for fault in told)


def test_a_ply_drilled_from_its_mate_names_no_holes(folder: Path) -> None:
    stated = '["F1/left", "A1-1/floor"]\nholes = ["1-3", "all"]\nstate = ["drilled from mate", "full"]'
    told = faults(folder, changed(('["F1/left", "A1-1/floor"]', stated)))
    assert any("drilled from its mate has none yet" in fault.what for fault in told)
