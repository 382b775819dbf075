"""Tube and rod: strip, seam, sizing, drawing, end reduction, pressure, welds, buckling."""
