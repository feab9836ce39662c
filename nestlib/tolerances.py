"""Every tolerance of the project, in one place. Lengths in mm."""

#: End points of two curves closer than this are joined when a drawing is read.
JOIN = 0.05

#: A gap wider than this is a line that is missing, and not one that was drawn badly: no remedy
#: proposes to join it. Common practice, no source.
WIDEST_GAP = 1.0

#: Splines and ellipses become lines and arcs that stay this close to them.
CURVE = 0.01

#: Clearance polygons stay this close to the arcs that they replace, on the safe side.
CHORD = 0.02

#: Two points closer than this are the same point.
SAME_POINT = 1e-6

#: What the verifier forgives when it compares a distance with the one demanded.
VERIFY = 1e-6

#: Step of the integer grid on which polygons are offset, well below `VERIFY`.
GRID = 1e-7
