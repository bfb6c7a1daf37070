"""What stands in paper space: listed, never cut."""

from fabplan.drawing.source import Source
from fabplan.model.drawing import Entry


def paper_entries(source: Source) -> tuple[Entry, ...]:
    """An entry for every entity of the layouts of a file, the windows on the model among them."""
    found = []
    for layout in source.document.layouts if source.document is not None else ():
        if layout.name == "Model":
            continue
        reason = f"paper space, {source.words.plain(layout.name)}"
        for entity in layout:
            layer = str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else "0"
            handle = str(entity.dxf.get("handle") or "")
            found.append(Entry(handle, entity.dxftype(), source.words.plain(layer), "set aside", reason))
    for one in source.rest:
        if one.paper:
            reason = f"paper space; {one.lost}" if one.lost else "paper space"
            found.append(Entry(one.handle, one.kind, one.layer, "set aside", reason))
    return tuple(found)
