"""Painting on a QPainter: pictures and sheets as PDF, PNG and SVG, without widgets.

Importing this package alone loads no Qt, so that the command line can ask
``curvelab.drawing.availability`` first.
"""
