"""Reach, precedence, order of riveting."""
