"""The drawings of a folder."""

from pathlib import Path

from fabplan.errors import DrawingError


def find_drawings(folder: Path) -> tuple[Path, ...]:
    """All DXF files of one folder, by name; folders, pipes and links to nothing are none.

    Raises:
        DrawingError: the folder is not there or holds no DXF file.
    """
    if not folder.is_dir():
        raise DrawingError(f"there is no folder {folder}", "Name the folder that holds the drawings.")
    found = tuple(sorted(path for path in folder.iterdir() if path.suffix.lower() == ".dxf" and path.is_file()))
    if not found:
        raise DrawingError(f"{folder} holds no DXF file", "Name the folder that holds the drawings.")
    return found
