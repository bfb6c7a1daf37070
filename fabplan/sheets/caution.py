"""The words that stand on every paper: what it is worth, and that it must not go out."""

PLANNING_AID = (
    "Planning aid. A sheet without findings means: no fault found by these checks with these data. Local codes and "
    "licensed practice stand above it; anything under pressure beyond static head is outside it."
)


def stopped(stops: int) -> str:
    """The words that strike a paper, "" where no stop stands open."""
    if not stops:
        return ""
    return f"Not for issue: {stops} stop{'' if stops == 1 else 's'}"
