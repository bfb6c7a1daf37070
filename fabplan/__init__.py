"""fabplan: from the drawings and one job file of a riveted plate body to the papers of the shop."""

__version__ = "0.1.0"
