"""Names of what holds the discs of a stack, whatever moves the fluid: its numbers and its loss.

Rows as in `engine.columns`, which makes columns of them: key, unit, whether more is better, label,
meaning.
"""

from engine.stage_columns import Row

# fmt: off
MACHINE: tuple[Row, ...] = (
    ("hold", "text", "", "Hold", "what holds the ring of a disc: spokes, or holes, the walls between round holes around a hub, which block twice as much or more; or bolts, with washers in the gaps, which hold bare rings between end plates on spokes"),
    ("spokes", "count", "", "Spokes", "number of spokes that hold the ring of a disc: 3, 4, 5, 6, 8 or 12; or of round holes, up to 6; or of bolts, and then of the spokes of the end plates too"),
    ("exhaust_blockage", "", "", "Exhaust blockage", "share of the exhaust annulus blocked by hub and spokes; it sets their width, or how large round holes are; with bolts, that of the end plates"),
    ("bolt_circle", "mm", "", "Bolt circle", "diameter of the circle on which bolts hold the discs; unused without hold: bolts"),
    ("bolt_diameter", "mm", "", "Bolt diameter", "diameter of these bolts, and of the holes in which they fit closely; unused without hold: bolts"),
    ("washer_diameter", "mm", "", "Washer diameter", "diameter of the washers on these bolts, as thick as the gap; unused without hold: bolts"),
)
SIZES: tuple[Row, ...] = (
    ("bore_wall", "mm", "more", "Bore wall", "radial distance between shaft and exhaust bore"),
    ("nut_clearance", "mm", "more", "Clamp nut clearance", "inside diameter of the nut that clamps the stack less the seat of the bearing that it passes; below 0.01 mm it cannot be put on"),
)
LOSSES: tuple[Row, ...] = (
    ("loss_bolts", "W", "less", "Washer drag", "drag of the washers in the gaps, at most; 0 without bolts there"),
)
# fmt: on
