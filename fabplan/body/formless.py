"""Why the form of a piece is not known, so that it lies on nothing, and how to mend it."""

from fabplan.model.part import Part


def why_formless(part: Part) -> tuple[str, str]:
    """What a piece without panels lacks, and what to do about it."""
    if part.trouble:
        return f"it cannot be formed as stated: {part.trouble.rstrip('.')}", "Mend that first."
    if part.spec.formed:
        return "it is formed to template", "Leave it out, and state its seams by hand."
    if part.section is not None:
        return "its length is not stated", "State `length`."
    if part.blank is None or part.blank.outline is None:
        return f"no outline of {part.spec.drawing} closes", "Look at it by `fabplan check`, and mend the drawing."
    return "its thickness is not stated", "State `thickness`, in mm."
