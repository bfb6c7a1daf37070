"""What is taken of a cutter who has not said: times t, and mm at least."""

HOLES = {"plasma": (1.5, 6.0), "oxy-fuel": (2.0, 20.0)}
"""Smallest hole by process where the supplier states none (from memory)."""

OTHERS = (1.0, 0.0)
"""The same of a laser, a water jet, a punch, and of webs and slots by any process (common practice)."""
