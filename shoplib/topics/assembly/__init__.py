"""Parts, reassembly, oil, the first run and the check after cooling."""
