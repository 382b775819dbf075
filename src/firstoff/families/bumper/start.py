"""The sheets that a new bumper launch starts from."""

MODEL = """
# The bar: its cross-section from the upper edge to the lower at the middle of the sheet (x to the rear, y up), its plan
# curve from the middle outwards, and the points of the checking fixture. An invented example:
[bar]
length = "1800 mm"

[[corner]]
name = "upper edge"
x = "70 mm"
y = "90 mm"

[[corner]]
name = "upper front"
x = "0 mm"
y = "90 mm"
radius = "8 mm"
die = "draw"
restrike = true

[[corner]]
name = "lower front"
x = "0 mm"
y = "-90 mm"
radius = "8 mm"
die = "draw"
restrike = true

[[corner]]
name = "lower edge"
x = "60 mm"
y = "-90 mm"

[[arc]]
length = "900 mm"
radius = "4000 mm"

[[fixture_point]]
name = "upper_middle"
at = "upper edge"
gap = "3 ±0.8 mm"
flush = "0 ±1 mm"

# Further characteristics, computed or only measured:
[characteristics.face_waviness]
unit = "mm"
limits = "<= 0.2 mm"
what = "waviness of the face over 200 mm"
"""

PLANT = """
[[press]]
name = "press"
force = "19600 kN"
count = 8

[[gauge]]
name = "checking fixture"
measures = "gap_* flush_*"
u = "0.1 mm"               # standard uncertainty of one reading
resolution = "0.1 mm"
source = "assumed: replace by your fixture study"
"""
