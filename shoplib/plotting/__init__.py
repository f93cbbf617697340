"""What the pictures share: style, gauges, maps, and the renderer that draws only what moved."""
