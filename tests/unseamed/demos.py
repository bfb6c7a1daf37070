"""Whether a demo comes together from its holes alone: `python -m tests.unseamed.demos bowser|skip [LONGER] [--rows]`.

The bowser takes a quarter of a minute, the skip two minutes and a half; the tests hold both from their folders on.
"""

import argparse
from collections.abc import Sequence
from time import process_time

from rich.console import Console

from fabplan.kit.find import assembled
from fabplan.kit.propose import proposal
from fabplan.kit.search import WORK
from fabplan.sheets.proposals import choice_words
from tests.kits.bowser import bowser
from tests.kits.skip import skip
from tests.unseamed.campaign import bare_pieces
from tests.unseamed.folder import BARE, ROWS
from tests.unseamed.judge import outcome

DEMOS = {"bowser": bowser, "skip": skip}


def main(arguments: Sequence[str] | None = None) -> None:
    """Search and print what is found, and what it leaves open."""
    asked = argparse.ArgumentParser(description="A demo put together from its holes alone.")
    asked.add_argument("demo", choices=sorted(DEMOS))
    asked.add_argument("longer", nargs="?", type=int, default=1, help="times the usual effort (1)")
    asked.add_argument("--rows", action="store_true", help="rows named on layers, else as their lines show")
    own = asked.parse_args(arguments)
    console = Console(width=140, highlight=False)
    known = DEMOS[own.demo]()
    parts, marks = bare_pieces(known, ROWS if own.rows else BARE)
    start = process_time()
    found = assembled(parts, work=WORK * own.longer)
    seconds = process_time() - start
    word = outcome(known, parts, marks, found)
    console.print(f"{own.demo}: {word}, {len(marks)} pieces, {len(found.bodies)} bodies, {seconds:.0f} s")
    for choice in proposal(parts, found).choices:
        console.print(choice_words(choice, marks))


if __name__ == "__main__":
    main()
