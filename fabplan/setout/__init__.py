"""Seams set out: equal pitches that run out whole, and the holes that they put into every ply."""
