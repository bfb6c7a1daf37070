"""Marks of single pieces of steel, from the piece mark, the quantity and the hand."""

from fabplan.model.job import PartSpec


def instance_marks(spec: PartSpec) -> tuple[tuple[str, str], ...]:
    """Pairs (instance mark, hand): A1; A1-1, A1-2 for more; A1R and A1L for a pair; A1R-1 for more pairs."""
    hands = ("R", "L") if spec.hand == "pair" else ("",)
    if spec.quantity == 1:
        return tuple((spec.mark + hand, hand) for hand in hands)
    return tuple((f"{spec.mark}{hand}-{number}", hand) for hand in hands for number in range(1, spec.quantity + 1))
