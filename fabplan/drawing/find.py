"""The drawings of a folder."""

import os
from itertools import islice
from pathlib import Path

from fabplan.errors import DrawingError

LOOKED = 1000  # folders within one of a folder that are looked into for drawings


def find_drawings(folder: Path) -> tuple[Path, ...]:
    """All DXF files of one folder, by name; folders, pipes and links to nothing are none.

    Raises:
        DrawingError: the folder is not there or holds no DXF file.
    """
    if not folder.is_dir():
        raise DrawingError(f"there is no folder {folder}", "Name the folder that holds the drawings.")
    found = tuple(sorted(path for path in folder.iterdir() if path.suffix.lower() == ".dxf" and path.is_file()))
    if not found:
        within = folders_within(folder)
        mend = f"Name one of its folders that do: {', '.join(within)}." if within else ""
        raise DrawingError(f"{folder} holds no DXF file", mend or "Name the folder that holds the drawings.")
    return found


def folders_within(folder: Path) -> tuple[str, ...]:
    """Names of the folders in a folder that hold DXF files, themselves or deeper down; links are not followed."""
    inner = sorted(path for path in folder.iterdir() if path.is_dir() and not path.is_symlink())
    return tuple(path.name for path in inner if any(map(_has_drawing, islice(os.walk(path), LOOKED))))


def _has_drawing(walked: tuple[str, list[str], list[str]]) -> bool:
    return any(name.lower().endswith(".dxf") for name in walked[2])
