"""The places of a plate that are drawn down, as prisms: as thick as the plate, and what is left all over them."""

import numpy as np

from fabplan.geom.pose import compose
from fabplan.geom.prism import Solid, solid
from fabplan.geom.taper import zones
from fabplan.model.panel import Panel, Taper
from fabplan.model.pose import Pose


def thinned(panel: Panel, place: Pose) -> list[tuple[Taper, Solid, Solid]]:
    """Each taper that another plate may pass, in the body: its place as thick as the plate, and its metal left.

    What is left all over it is as thick as its edge, on the plane face.
    """
    whole = solid(panel, place)
    found = []
    for taper, zone in zones(whole.face, panel):
        down = panel.thickness - taper.edge if taper.from_marked else 0.0
        frame = compose(whole.frame, Pose(origin=np.array([0.0, 0.0, -down])))
        found.append((taper, Solid(whole.frame, zone, panel.thickness), Solid(frame, zone, taper.edge)))
    return found
