"""Kits with known truth: bodies described in space, drawn and written as jobs without any of fabplan's own placing."""
