"""Published tables as data with their sources, and the checks that read them."""
