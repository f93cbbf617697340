"""Shared parts of the pictures: style, gauges, maps, and a renderer that redraws only what moved."""
