"""What a PDF page draws, read back by pypdf: circles and lines in mm of the paper, for tests of true scale."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
from numpy.typing import NDArray

POINT = 25.4 / 72.0  # mm


@dataclass
class Drawn:
    """Circles (n, 3): x, y, radius; straight lines (m, 4); texts of one page."""

    circles: NDArray[np.float64]
    lines: NDArray[np.float64]
    text: str


@dataclass
class _Reader:
    """Follows the operators of a page: turns and scales, and the paths that are stroked."""

    held: list[NDArray[np.float64]] = field(default_factory=lambda: [np.eye(3)])
    path: list[NDArray[np.float64]] = field(default_factory=list)
    curves: int = 0
    circles: list[tuple[float, ...]] = field(default_factory=list)
    lines: list[tuple[float, ...]] = field(default_factory=list)

    def take(self, name: bytes, values: list[Any]) -> None:
        if name == b"q":
            self.held.append(self.held[-1].copy())
        elif name == b"Q":
            self.held.pop()
        elif name == b"cm":
            a, b, c, d, e, f = map(float, values)
            self.held[-1] = np.array([[a, b, 0.0], [c, d, 0.0], [e, f, 1.0]]) @ self.held[-1]
        elif name in (b"m", b"l", b"c"):
            flat = np.array([float(value) for value in values]).reshape(-1, 2)
            self.path += list((np.column_stack([flat, np.ones(len(flat))]) @ self.held[-1])[:, :2] * POINT)
            self.curves += name == b"c"
        elif name in (b"S", b"s", b"B", b"b", b"f", b"n"):
            self._ended()

    def _ended(self) -> None:
        points = np.array(self.path).reshape(-1, 2)
        if self.curves == 4:
            low, high = points.min(axis=0), points.max(axis=0)
            self.circles.append((*((low + high) / 2.0).tolist(), float(np.mean(high - low)) / 2.0))
        elif len(points) == 2:
            self.lines.append(tuple(points.ravel().tolist()))
        self.path, self.curves = [], 0


def drawn(path: Path) -> list[Drawn]:
    """Every page of a PDF file."""
    pages = []
    for page in pypdf.PdfReader(path).pages:
        reader = _Reader()
        content = page.get_contents()
        assert content is not None
        for values, name in pypdf.generic.ContentStream(content, page.pdf).operations:
            reader.take(name, values)
        circles, lines = np.array(reader.circles).reshape(-1, 3), np.array(reader.lines).reshape(-1, 4)
        pages.append(Drawn(circles, lines, page.extract_text()))
    return pages
