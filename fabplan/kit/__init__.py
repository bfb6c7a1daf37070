"""Putting a kit together from its holes alone: which rows of which pieces belong together, without any seam."""
