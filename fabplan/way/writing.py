"""Writing where the user said: a refusal of the system becomes one clear sentence."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fabplan.errors import OutputError


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Raise `OutputError` for what the system refuses inside."""
    try:
        yield
    except OSError as error:
        mend = "Look at permissions and room on the disk."
        raise OutputError(f"{path} cannot be written ({error.strerror})", mend) from None
