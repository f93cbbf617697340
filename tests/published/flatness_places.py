"""Places on a face that two tests of flatness measure."""

HALF_X, HALF_Y = 32 * 0.0254, 20 * 0.0254  # 16 and 10 steps of the 4 in foot

PLACES = {
    "NW": (-HALF_X, HALF_Y), "N": (0, HALF_Y), "NE": (HALF_X, HALF_Y), "W": (-HALF_X, 0), "C": (0, 0), "E": (HALF_X, 0),
    "SW": (-HALF_X, -HALF_Y), "S": (0, -HALF_Y), "SE": (HALF_X, -HALF_Y),
}  # fmt: skip
