"""Fatigue under service loads: spectra, cycle counts, damage."""
