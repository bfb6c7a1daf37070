"""How tables fall on pages: no nearly empty leaf at the end, no small table torn, long lists read down."""

from fabplan.model.page import Text
from fabplan.sheets.table import Item, Table, columns, notes, spread

AREA = (0.0, 0.0, 200.0, 100.0)


def texts(page: list[Item]) -> list[str]:
    return [item.text for item in page if isinstance(item, Text)]


def depth(page: list[Item]) -> float:
    return AREA[3] - min(item.at[1] for item in page if isinstance(item, Text))


def table(rows: int, whole: bool = False, boxed: tuple[int, ...] = ()) -> Table:
    return Table("list", ("a", "b"), (1.0, 1.0), tuple((f"r{k}", "x") for k in range(rows)), boxed=boxed, whole=whole)


def test_the_last_page_is_never_nearly_empty() -> None:
    """For every length of list that needs two pages or more, the last one is filled a quarter at least."""
    for rows in range(1, 80):
        pages = spread([table(rows), notes("", ["one sentence at the end"])], AREA)
        assert [word for page in pages for word in texts(page) if word.startswith("r")] == [
            f"r{k}" for k in range(rows)
        ]
        if len(pages) > 1:
            assert depth(pages[-1]) > 25.0, rows


def test_a_small_table_with_boxes_is_not_torn() -> None:
    for rows in range(1, 20):
        pages = spread([table(rows), table(6, whole=True, boxed=(1,))], AREA)
        assert sum("r5" in texts(page) and "r0" in texts(page) for page in pages) >= 1
        (last,) = [page for page in pages if texts(page).count("list") and "r5" in texts(page)][-1:]
        own = texts(last)[len(texts(last)) - 1 - texts(last)[::-1].index("list") :]
        assert [word for word in own if word.startswith("r")] == [f"r{k}" for k in range(6)]


def test_a_long_list_is_read_down_its_columns() -> None:
    found = columns("t", ("n", "v"), [(str(k), str(k * k)) for k in range(5)])
    assert found.heads == ("n", "v", "n", "v")
    assert found.rows == (("0", "0", "3", "9"), ("1", "1", "4", "16"), ("2", "4", "", ""))
    assert len(columns("t", ("n", "v"), [("1", "1")] * 41).heads) == 6
    assert columns("t", ("n", "v"), []).rows == ()
