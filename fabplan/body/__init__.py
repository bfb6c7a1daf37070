"""Forming, placing, seams, rivet stacks."""
