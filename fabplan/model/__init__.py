"""Frozen data that the stages hand on to one another. No computing here."""
