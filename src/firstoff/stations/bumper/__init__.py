"""Stations of the pressed steel bumper."""
