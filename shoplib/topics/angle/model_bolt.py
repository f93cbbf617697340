"""The model bolt that lessons, exercises and notebooks show: one bolt, with one set of numbers.  Invented for teaching.

M10×1.5, class 10.9, shank 100 mm of 8.4 mm and 20 mm of free thread, in a joint three times as stiff as itself.
"""

BOLT = {
    "thread": "M10x1.5",
    "bearing_mean": "13 mm",
    "yield_strength": "940 MPa",
    "yield_strength_source": "ISO 898-1, class 10.9",
    "shank_diameter": "8.4 mm",
}
MODEL = {
    **BOLT,
    "shank_length": "100 mm",
    "thread_length": "20 mm",
    "tensile_strength": "1040 MPa",
    "tensile_strength_source": "ISO 898-1, class 10.9",
    "uniform_strain": "2 %",
    "uniform_strain_source": "invented for teaching",
    "parts_stiffness": "286.2 kN/mm",
    "ends": "none",
}
