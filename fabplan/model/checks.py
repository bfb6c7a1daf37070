"""The one table of checks: it feeds README, the sheets and the list of what was not checked.

A check's name is plain words, stable and never reused. `needs` names the data without which the check cannot run; what
lacks data is listed as not checked. `level` is the gravest level that the check gives.
"""

from dataclasses import dataclass

from fabplan.model.finding import Level

DRAWING, THICKNESS, RIVET, RULES, SEAMS, BODY, SUPPLIER, SIZE, TOOLS, PART, HOIST = (
    "a drawing",
    "a thickness",
    "a rivet and its hole",
    "a rule set",
    "seams",
    "a body put together",
    "the supplier's limits",
    "a stated overall size",
    "tools of the shop",
    "what the job states of the part",
    "what the hoist lifts",
)

BED, LEAST_PART, GREATEST, VERSIONS, UNIT, LAYERS, MARKING, PROCESS = (
    "the supplier's bed or sheet",
    "the supplier's smallest part",
    "the supplier's greatest thickness",
    "the supplier's DXF versions",
    "the supplier's unit",
    "the supplier's layers",
    "the supplier's marking",
    "the supplier's process",
)
OF_SUPPLIER = (BED, LEAST_PART, GREATEST, VERSIONS, UNIT, LAYERS, MARKING, PROCESS)
UNSTATED = "limits that the supplier has not stated"
"""Single limits of a supplier, and the word for all that are missing; without a supplier none of them is named."""


@dataclass(frozen=True, slots=True)
class Check:
    """One check: stable name, gravest level, what it looks for, what it needs, where its limit comes from."""

    name: str
    level: Level
    about: str
    needs: tuple[str, ...]
    source: str


def _table(*rows: tuple[str, Level, str, tuple[str, ...], str]) -> dict[str, Check]:
    table = {row[0]: Check(*row) for row in rows}
    if len(table) != len(rows):
        raise ValueError("a check stands twice in the table")
    return table


_STOP, _QUERY, _NOTE = Level.STOP, Level.QUERY, Level.NOTE
_PRACTICE, _GEOMETRY, _SUPPLIER = "common practice", "geometry", "the supplier"
_RULE_SET = "the rule set of the job"

CHECKS: dict[str, Check] = _table(
    # the file
    ("unreadable-drawing", _STOP, "the file cannot be read as DXF", (DRAWING,), _GEOMETRY),
    ("damaged-drawing", _QUERY, "the file had to be mended to be read", (DRAWING,), _GEOMETRY),
    ("empty-drawing", _STOP, "the model space holds nothing", (DRAWING,), _GEOMETRY),
    ("unsupported-entity", _QUERY, "an entity that cannot be part of a flat profile", (DRAWING,), _GEOMETRY),
    ("bad-coordinates", _STOP, "a coordinate that is no finite number, or beyond all measure", (DRAWING,), _GEOMETRY),
    ("layer-without-role", _STOP, "a layer whose part in the drawing is not known", (DRAWING,), _PRACTICE),
    ("units-in-doubt", _QUERY, "header and proofs of the unit disagree or are missing", (DRAWING,), _PRACTICE),
    ("size-differs", _STOP, "overall size differs from the stated one", (DRAWING, SIZE), "the job file"),
    ("not-flat", _STOP, "geometry that does not lie in one plane", (DRAWING,), _GEOMETRY),
    ("hidden-layer", _QUERY, "lines that are off, frozen or invisible on the screen", (DRAWING,), _PRACTICE),
    ("paper-space", _NOTE, "lines in paper space, which are not read", (DRAWING,), _PRACTICE),
    ("text-encoding", _NOTE, "names and texts in another code page than stated", (DRAWING,), "DXF reference"),
    ("refused-name", _NOTE, "a layer or block named with signs that programs refuse", (DRAWING,), "DXF reference"),
    ("drawn-in-chords", _NOTE, "a circle or arc drawn as short straight lines", (DRAWING,), _GEOMETRY),
    ("account-open", _STOP, "an entity of the file is not accounted for", (DRAWING,), _GEOMETRY),
    # profiles
    ("open-profile", _STOP, "a line of the cut that does not close", (DRAWING,), _GEOMETRY),
    ("no-profile", _STOP, "no outer profile closes", (DRAWING,), _GEOMETRY),
    ("sheet-border", _QUERY, "an outline that may be the border of a sheet", (DRAWING,), "ISO 216; common practice"),
    ("more-than-one-profile", _STOP, "more than one outer profile", (DRAWING,), _GEOMETRY),
    ("doubled-line", _STOP, "the same cut drawn twice, whole or in part", (DRAWING,), _GEOMETRY),
    ("crossing-lines", _STOP, "cut lines that cross or touch each other", (DRAWING,), _GEOMETRY),
    ("zero-length", _QUERY, "an entity without length", (DRAWING,), _GEOMETRY),
    ("negative-radius", _STOP, "a circle or arc of negative radius", (DRAWING,), _GEOMETRY),
    ("wrong-nesting", _STOP, "a cut within a cut", (DRAWING,), _GEOMETRY),
    ("tiny-segments", _QUERY, "far too many tiny lines", (DRAWING,), _PRACTICE),
    ("stray-line", _STOP, "a cut line that belongs to no profile", (DRAWING,), _GEOMETRY),
    ("text-on-cut-layer", _STOP, "text or dimension on a layer that is cut", (DRAWING,), _PRACTICE),
    ("opening-like-rivet-hole", _QUERY, "a circle of rivet-hole size on the cut layer", (DRAWING, RIVET), _PRACTICE),
    # holes in the plate
    ("hole-outside", _STOP, "a hole outside the plate or across its edge", (DRAWING,), _GEOMETRY),
    ("holes-overlap", _STOP, "two holes that run into one another", (DRAWING,), _GEOMETRY),
    ("small-hole", _QUERY, "a hole too small to cut in this thickness", (DRAWING, THICKNESS), _SUPPLIER),
    ("thin-web", _QUERY, "too little metal left between two cuts, or in a spike", (DRAWING, THICKNESS), _SUPPLIER),
    ("narrow-slot", _QUERY, "a slot or notch too narrow to cut", (DRAWING, THICKNESS), _SUPPLIER),
    (
        "sharp-corner",
        _QUERY,
        "an inner corner without its radius",
        (DRAWING,),
        "the supplier, or EN 1090-2, from memory",
    ),
    ("inch-size", _QUERY, "sixteenths of an inch in a metric drawing", (DRAWING,), "25.4 mm to the inch"),
    ("reamed-hole", _QUERY, "a hole to be reamed, cut by heat", (DRAWING, SEAMS, SUPPLIER, PROCESS), _PRACTICE),
    # turned, handed, stated twice
    ("near-symmetric", _QUERY, "a hole pattern that nearly fits turned or turned over", (DRAWING,), _PRACTICE),
    ("hand-not-told", _QUERY, "a pair with nothing on the steel to tell its hands", (DRAWING, PART), _PRACTICE),
    ("wrong-face", _QUERY, "a mark, or a word, for the other face", (DRAWING,), _PRACTICE),
    ("thickness-differs", _QUERY, "job, text and file name state unlike thicknesses", (DRAWING,), "the job file"),
    # spacing
    ("least-pitch", _STOP, "rivets too close along a row", (DRAWING, RIVET, RULES), _RULE_SET),
    ("greatest-pitch", _STOP, "rivets too far apart along a row", (DRAWING, RIVET, THICKNESS, RULES), _RULE_SET),
    ("tight-pitch", _QUERY, "pitch too wide for a seam that holds water", (SEAMS, THICKNESS), "tight-seam practice"),
    ("drivable-pitch", _NOTE, "pitch under the 3 d that a snap needs", (DRAWING, RIVET), "classical proportions"),
    ("least-row-distance", _STOP, "rows too close", (DRAWING, RIVET, RULES), _RULE_SET),
    ("greatest-row-distance", _STOP, "rows too far apart", (DRAWING, RIVET, THICKNESS, RULES), _RULE_SET),
    ("stagger-diagonal", _STOP, "staggered rivets too close on the slant", (DRAWING, RIVET, RULES), _RULE_SET),
    ("least-end-distance", _STOP, "too little plate past the end of a row", (DRAWING, RIVET, RULES), _RULE_SET),
    ("greatest-end-distance", _QUERY, "too much plate past the end of a row", (DRAWING, THICKNESS, RULES), _RULE_SET),
    ("least-edge-distance", _STOP, "too little plate beside a row", (DRAWING, RIVET, RULES), _RULE_SET),
    ("greatest-edge-distance", _QUERY, "too much plate beside a row", (DRAWING, THICKNESS, RULES), _RULE_SET),
    (
        "diameter-for-thickness",
        _QUERY,
        "rivet thin or thick for its plate",
        (RIVET, THICKNESS),
        "classical proportions",
    ),
    ("grip", _STOP, "grip too long for the rivet", (RIVET, BODY), "EN 1993-1-8, from memory"),
    ("hole-for-rivet", _STOP, "hole that does not suit its rivet", (DRAWING, RIVET), "the job file and hole tables"),
    ("countersink-depth", _STOP, "countersink too deep for its plate", (RIVET, THICKNESS), "head tables"),
    ("rules-refused", _STOP, "a rule set that does not hold for this material", (RULES,), "the rule set's own field"),
    # legs of bars
    ("back-mark", _NOTE, "a row off the usual gauge of its leg", (BODY,), "DIN 997, from memory"),
    ("hole-for-leg", _QUERY, "a hole larger than its leg takes", (BODY,), "DIN 997, from memory"),
    ("head-on-root", _STOP, "a hole or a head that runs into the root of a section", (BODY,), _PRACTICE),
    ("head-on-round", _QUERY, "a flat head on the round back of a half-round", (BODY,), _PRACTICE),
    ("sloping-flange", _QUERY, "a head, point or nut on a sloping flange", (BODY,), "RCSC specification, from memory"),
    ("edge-on-root", _QUERY, "an edge of a plate on the root fillet of a section", (BODY,), _PRACTICE),
    # forming
    ("fold-cut", _STOP, "a hole or cut-out across a fold line", (DRAWING,), _GEOMETRY),
    ("near-fold", _QUERY, "a hole, cut-out or edge near a fold or roll line", (DRAWING, THICKNESS), _PRACTICE),
    ("short-flange", _QUERY, "a flange too short for the die that folds it", (DRAWING, THICKNESS, PART), _PRACTICE),
    (
        "tight-bend",
        _QUERY,
        "an inside radius under the least for grade, thickness and grain",
        (DRAWING, THICKNESS, PART),
        "EN 10025-2; of rolls from memory",
    ),
    ("flat-end-row", _QUERY, "a row in the flat end of a roll", (DRAWING, THICKNESS, PART), _PRACTICE),
    ("cannot-form", _STOP, "folds or rolls that cannot be made as stated", (DRAWING, THICKNESS), _GEOMETRY),
    (
        "formed-to-template",
        _QUERY,
        "a piece whose form no development gives; a note where its trim is stated",
        (SEAMS,),
        _PRACTICE,
    ),
    ("template-holes", _QUERY, "rivet holes cut in a piece that takes them from its mates", (DRAWING, PART), _PRACTICE),
    ("bend-table", _QUERY, "a fold that the bender's own table does not hold", (BODY,), "the bender"),
    ("formed-size-differs", _STOP, "a blank that does not give the stated formed size", (BODY,), "ISO 2768-1, class m"),
    (
        "thickness-off",
        _STOP,
        "a plate measured thinner or thicker than its standard lets it be",
        (PART,),
        "EN 10051, EN 10029",
    ),
    (
        "as-built",
        _NOTE,
        "a measured size that the body is built of, not the stated one",
        (PART,),
        "the job file",
    ),
    (
        "measured-form",
        _QUERY,
        "a measured formed size that the blank does not give",
        (BODY,),
        "ISO 2768-1, class m",
    ),
    (
        "over-disagrees",
        _STOP,
        "sizes measured over a formed piece that its bends cannot give together",
        (BODY,),
        _GEOMETRY,
    ),
    ("measured-holes", _NOTE, "holes that are taken where they were measured", (PART,), "the job file"),
    ("measured-unknown", _STOP, "measured holes that the drawing does not have", (PART,), "the job file"),
    ("measured-unit", _STOP, "measured sizes in inches, cm or m, not mm", (PART,), _GEOMETRY),
    ("measured-mirrored", _STOP, "measured holes that fit as their mirror image", (PART,), _GEOMETRY),
    (
        "measured-face",
        _QUERY,
        "measured holes that do not prove from which face they were measured",
        (PART,),
        _GEOMETRY,
    ),
    ("measured-formed", _QUERY, "measured holes on both sides of a bend, or on a round", (PART,), _GEOMETRY),
    ("tape-loose", _STOP, "tape sizes that leave a measured pattern free to hinge or to turn over", (PART,), _GEOMETRY),
    ("tape-disagrees", _STOP, "tape sizes of a measured pattern that contradict each other", (PART,), _GEOMETRY),
    ("measured-exchanged", _QUERY, "two measured holes that lie where the other is drawn", (PART,), _GEOMETRY),
    ("measured-misread", _QUERY, "a measured hole that stands out from all others", (PART,), _GEOMETRY),
    ("measured-grows", _QUERY, "a measured row that is evenly longer or shorter than drawn", (PART,), _GEOMETRY),
    ("oval-hole", _QUERY, "a measured hole that is not round", (PART,), _PRACTICE),
    ("formed-fouls", _STOP, "a formed piece that passes through itself", (BODY,), _GEOMETRY),
    ("fold-order", _QUERY, "a flange already up in the way of the next fold", (BODY,), _GEOMETRY),
    # body
    ("likely-cause", _STOP, "the single change that would make the body close", (BODY,), _GEOMETRY),
    ("no-such-row", _STOP, "a seam names a row that its drawing does not have", (SEAMS,), "the job file"),
    ("one-mark", _QUERY, "a seam that bears the mark of a piece", (SEAMS,), _PRACTICE),
    ("not-placed", _STOP, "a piece that no seam holds in place", (SEAMS,), _GEOMETRY),
    ("taper-side", _STOP, "a thinned plate that is passed on the face which is not drawn down", (BODY,), _GEOMETRY),
    ("no-location", _STOP, "a location of fittings on a row that its piece does not have", (BODY,), "the job file"),
    ("fitting-grip", _STOP, "a fitting thicker than its location takes", (BODY,), "the job file"),
    ("fitting-face", _STOP, "a fitting on the other face than its location states", (BODY,), "the job file"),
    ("fitting-option", _QUERY, "an option that is not chosen and would not fit", (BODY,), _GEOMETRY),
    ("no-plug", _QUERY, "holes of a location that stay open and have no plug", (BODY,), _PRACTICE),
    ("two-bodies", _STOP, "the kit fits together in more than one way", (SEAMS,), _GEOMETRY),
    ("marked-face", _STOP, "the marked face looks elsewhere than stated", (BODY,), "the job file"),
    ("head-side", _STOP, "made heads on the other side than stated", (BODY,), "the job file"),
    ("body-doubtful", _STOP, "a body that closes only with faults that no check names", (BODY,), _GEOMETRY),
    ("no-mate", _STOP, "a hole with no hole behind it", (BODY,), _GEOMETRY),
    ("count-differs", _STOP, "two plies of a seam with unlike counts of holes", (BODY,), _GEOMETRY),
    (
        "misfit",
        _STOP,
        "holes of one stack out by more than the usable clearance",
        (BODY,),
        "ISO 9013 class 1, hot rivet + 1.2 % (from memory)",
    ),
    ("strip-reversed", _STOP, "a row that would fit if its piece were turned end for end", (BODY,), _GEOMETRY),
    ("plate-mirrored", _STOP, "a piece that would fit if it were of the other hand", (BODY,), _GEOMETRY),
    ("plies-apart", _STOP, "plies of a seam whose faces do not touch", (BODY,), _GEOMETRY),
    ("hole-used-twice", _STOP, "a hole that two seams, or a seam and a dummy head, both take", (BODY,), _GEOMETRY),
    ("no-hole", _STOP, "metal over a rivet's hole, or part of it, without a hole", (BODY,), _GEOMETRY),
    ("head-fouls", _STOP, "metal where the head of a rivet must be made", (BODY,), "head tables"),
    ("plates-clash", _STOP, "pieces that pass through each other", (BODY,), _GEOMETRY),
    ("unlisted-ply", _NOTE, "a ply in the stack that the seam does not list", (BODY,), _GEOMETRY),
    ("hole-sizes-differ", _QUERY, "holes of unlike diameter in one stack", (BODY,), _PRACTICE),
    ("unclaimed-stack", _STOP, "a stack of holes that no seam claims", (BODY,), _GEOMETRY),
    # fasteners other than rivets, and welds
    ("no-such-hole", _STOP, "another fastener for a hole that its seam does not have", (BODY,), "the job file"),
    ("bolt-hole", _QUERY, "a bolt whose hole is not the normal one", (RIVET,), "EN 1090-2, table 11"),
    ("fitted-hole", _STOP, "a fitted bolt with too much play in its hole", (RIVET,), "DIN 18800-1 (from memory)"),
    ("not-reamed", _QUERY, "holes for fitted bolts that nothing is left in to ream", (BODY,), _PRACTICE),
    ("short-thread", _QUERY, "a tap rivet with too little thread in its last ply", (BODY,), _PRACTICE),
    ("thick-packing", _NOTE, "packing that makes the rivets through it weaker", (BODY,), "EN 1993-1-8, 3.6.1(12)"),
    ("weld-size", _QUERY, "a weld too thin, too thick or too short", (BODY,), "EN 1993-1-8, 4.5 (from memory)"),
    ("weld-apart", _STOP, "pieces to be welded that do not touch", (BODY,), "ISO 5817, from memory"),
    ("leaky-bolt", _QUERY, "bolts in clearance holes of a seam that holds water", (SEAMS,), _PRACTICE),
    ("weld-at-rivets", _QUERY, "a weld between pieces that rivets join", (BODY,), _PRACTICE),
    ("dry-fit", _NOTE, "sizes of the dry-fitted body that were measured", (BODY,), "the job file"),
    (
        "dry-fit-unknown",
        _STOP,
        "sizes of the dry fit between rivets that the body does not have",
        (BODY,),
        "the job file",
    ),
    ("out-of-square", _QUERY, "a size of the dry-fitted body off by over 3 mm", (BODY,), _PRACTICE),
    ("closing-size", _QUERY, "a closing piece of another size than the body as it stands asks", (BODY,), _GEOMETRY),
    ("level-differs", _STOP, "faces that are to lie at one height and do not", (BODY,), "the job file"),
    # supply
    ("rivet-length", _QUERY, "length by volume and rule of thumb differ by over 0.3 d", (BODY,), "shop practice"),
    ("near-lengths", _NOTE, "rivets of lengths that could be mixed up", (BODY,), _PRACTICE),
    ("no-stock-length", _QUERY, "no stocked length is long enough", (BODY,), "stock lengths, from memory"),
    ("stated-standard", _QUERY, "a rivet that its stated standard does not list", (BODY,), "head tables"),
    ("no-head-table", _QUERY, "no head table lists this rivet", (RIVET,), "head tables"),
    # reach and order
    ("no-driver", _STOP, "a rivet that no driving tool reaches at any step", (BODY, TOOLS), "tool sizes"),
    ("no-hold-up", _STOP, "a rivet that cannot be held up at any step", (BODY, TOOLS), "tool sizes"),
    ("no-way-in", _STOP, "a rivet with no room to be put in, shank, head and tongs", (BODY, TOOLS), "tool sizes"),
    (
        "near-upstand",
        _NOTE,
        "heads nearer to an upstand than ordinary snaps and dollies need",
        (BODY, TOOLS),
        "US structural detailing text of 1912",
    ),
    ("shut-in", _STOP, "pieces and rivets that no order can build", (BODY, TOOLS), _GEOMETRY),
    ("heads-change-sides", _NOTE, "made head and point must change sides to be driven", (BODY, TOOLS), "tool sizes"),
    (
        "no-room-below",
        _QUERY,
        "rivets without room over the floor for tool or man",
        (BODY, TOOLS),
        "[shop] table_height",
    ),
    (
        "no-spanner",
        _QUERY,
        "a bolt of the dry fit, or one that stays, that nobody can tighten",
        (BODY, TOOLS),
        "tool sizes",
    ),
    ("tool-through-opening", _NOTE, "tools wider than the opening that their arm takes", (BODY, TOOLS), "tool sizes"),
    ("no-way-on", _QUERY, "a piece with no straight way on when it comes", (BODY,), _GEOMETRY),
    ("man-inside", _NOTE, "a rivet that needs a man inside the body", (BODY, TOOLS), "confined-space practice"),
    ("order-broken", _STOP, "a step of the stated order that cannot be done", (BODY, TOOLS), "the job file"),
    ("order-incomplete", _QUERY, "pieces or seams that the stated order does not name", (BODY,), "the job file"),
    ("compound-wanted", _QUERY, "a tight seam of thin plate without compound", (BODY,), _PRACTICE),
    ("compound-hot", _QUERY, "compound under hot rivets", (BODY,), _PRACTICE),
    ("compound-dries", _QUERY, "rivets that take longer than their compound stays open", (BODY,), "the job file"),
    # what the supplier takes
    ("beyond-bed", _STOP, "a piece larger than his bed, or than his sheets", (DRAWING, SUPPLIER, BED), _SUPPLIER),
    ("small-part", _QUERY, "a piece that falls through his grid", (DRAWING, SUPPLIER, LEAST_PART), _SUPPLIER),
    ("too-thick", _STOP, "plate thicker than he cuts", (DRAWING, THICKNESS, SUPPLIER, GREATEST), _SUPPLIER),
    ("dxf-version", _QUERY, "a DXF version that he does not read", (DRAWING, SUPPLIER, VERSIONS), _SUPPLIER),
    ("supplier-unit", _QUERY, "a unit that he does not take", (DRAWING, SUPPLIER, UNIT), _SUPPLIER),
    ("supplier-layer", _QUERY, "layers that he does not want", (DRAWING, SUPPLIER, LAYERS), _SUPPLIER),
    ("supplier-marking", _QUERY, "marks, and he marks none", (DRAWING, SUPPLIER, MARKING), _SUPPLIER),
    # the job's own word
    ("acceptance-lapsed", _QUERY, "a finding was accepted for another geometry", (DRAWING,), "the job file"),
    ("acceptance-unused", _NOTE, "an accepted finding that is not there", (DRAWING,), "the job file"),
    ("too-heavy", _QUERY, "a piece heavier than the hoist lifts", (DRAWING, THICKNESS, HOIST), "the job file"),
)

MAKING = (
    "small-hole",
    "thin-web",
    "narrow-slot",
    "sharp-corner",
    "inch-size",
    "reamed-hole",
    "near-fold",
    "short-flange",
    "tight-bend",
    "flat-end-row",
    "beyond-bed",
    "small-part",
    "too-thick",
    "dxf-version",
    "supplier-unit",
    "supplier-layer",
    "supplier-marking",
)
"""Checks of how a piece is cut, formed and sent, which ask nothing of one that is there already."""
