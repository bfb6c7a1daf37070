"""Names of layers, as drawings and job files write them."""


def plain_name(name: str) -> str:
    """A layer's name as the job may write it: case, blank, "_" and "-" do not matter.

    >>> plain_name("Fold_1")
    'fold 1'
    """
    return name.replace("_", " ").replace("-", " ").casefold().strip()
