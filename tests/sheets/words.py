"""The texts of a page, for tests of what a sheet says."""

from fabplan.model.page import Page, Text


def words_of(page: Page, **wanted: object) -> list[str]:
    """The texts of a page, of all or of those whose fields have these values."""
    found = [item for item in page.items if isinstance(item, Text)]
    return [item.text for item in found if all(getattr(item, name) == value for name, value in wanted.items())]


def words(page: Page) -> str:
    """All of them in one line."""
    return " ".join(words_of(page))
