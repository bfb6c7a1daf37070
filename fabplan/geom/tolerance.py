"""Every tolerance of the program, each with its reason. Lengths mm."""

JOIN = 0.01
"""End points closer than this are one point: a cutter's control closes such gaps (common practice)."""

CHORD = 0.01
"""Greatest distance of a chord from the spline or ellipse it stands for: a tenth of the finest cutting deviation."""

SAGITTA = 0.005
"""Greatest distance of a chord from its arc where a polygon stands in for a profile in tests of place only."""

FIGURE = 1e-6
"""Slack of a comparison with a limit, so that 3 d computed in doubles is not under 3 d: a nanometre."""

FINGERPRINT = 0.001
"""Grid of the fingerprint."""

TOUCH = 0.5
"""Faces closer than this touch in a model drawn without clearances; a packing is thicker (common practice)."""

CAPTURE = 4.0
"""Hole centres across the axis closer than this are meant for one another: under half the pitch of 8 mm rivets."""

CLASH = 0.2
"""Depth by which two pieces may overlap before they clash: rounding of drawn sizes to 0.1 mm on either side."""

ROUNDED = 0.15
"""Differences up to this between holes that should agree are none: drawn sizes are rounded to 0.1 mm."""
